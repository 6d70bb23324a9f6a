#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/membership.pb.h"

#include <string>

namespace fieldpeg::link {

/// Where a client keeps what it joined: under XDG_CONFIG_HOME, or ~/.config.
std::string memberships_path();

/// What was joined, the last first. Empty if there is nothing; a refusal if the file is not right
/// or may be read by others.
Result<v1::Memberships> read_memberships();
/// Writes them with mode 0600, all or nothing.
Result<void> write_memberships(const v1::Memberships& all);

/// The one to speak as: by name, or the last joined. A refusal if there is none.
Result<v1::Membership> membership(const std::string& as);
/// Puts one first, in the place of one with its name on the same server.
Result<void> keep_membership(const v1::Membership& one);

}  // namespace fieldpeg::link
