#pragma once

#include <string>
#include <string_view>

namespace fieldpeg::log {

/// A day in a database: "postgresql://HOST/DATABASE#DAY", the address as libpq takes it. What of it
/// is left out libpq takes from its own environment, files of services and of passwords.
struct DatabasePlace {
    std::string address;
    std::string day;  ///< by which name servers hold it

    /// For people: without a password.
    std::string shown() const;
};

bool is_database(std::string_view place);
/// Requires that it is one.
DatabasePlace database_place(std::string_view place);

}  // namespace fieldpeg::log
