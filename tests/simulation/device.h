#pragma once

#include "client/link/retry.h"
#include "server/wire/frame_channel.h"
#include "tests/simulation/world.h"

#include "fieldpeg/v1/query.pb.h"
#include "fieldpeg/v1/wire.pb.h"

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>

namespace fieldpeg::simulation {

/// Somebody's phone: it joins, watches, asks one thing after the other by the rules of
/// client/link/retry.h, loses its connection and comes back, and is sometimes impatient.
class Device {
public:
    struct Owner {
        std::string name;
        v1::Role::Kind role;  ///< of the ticket
        bool has_own_ticket;  ///< for one pilot
        bool knocks;          ///< has none at all
    };

    Device(World& world, int number, Owner owner);
    ~Device();
    Device(const Device&) = delete;
    Device& operator=(const Device&) = delete;

    /// Lives from now on.
    void begin();
    /// Asks for a sighting, if it may and is connected.
    bool note_a_sighting();

    bool is_watching() const { return has_board_ && up_; }
    bool by_changes() const { return by_changes_; }
    const v1::BoardReply& board() const { return board_; }
    const std::string& name() const { return owner_.name; }

private:
    struct Pending {
        v1::Request request;
        link::Retry retry;
        int sends = 0;
        bool is_on_its_way = false;
    };

    void live();
    void act();
    void ask_for_something();
    void ask_a_question();
    void begin_asking(v1::Request request);
    void ask_again();

    void connect();
    void join(v1::Hello& hello);
    void watch();
    void hang_up();
    void lost();
    void send(const v1::ClientFrame& frame);
    void send_pending();
    void try_pending();
    void unanswered(link::Unanswered what);

    void arrived(const std::string& bytes);
    void take(const v1::ServerFrame& frame);
    void take_response(const v1::Response& response);
    void take_reply(const v1::Request& request, const v1::Reply& reply);
    void take_change(const v1::Change& change);
    void take_goodbye(const v1::Refusal& why);
    void make_a_key();

    /// Later, unless the connection is another by then.
    void later(std::int64_t wait_ms, std::function<void()> happening);
    void note(const std::string& line) const;

    World& world_;
    int number_;
    Owner owner_;
    std::string key_;
    bool is_member_ = false;
    std::shared_ptr<Cable> cable_;
    std::uint64_t epoch_ = 0;  ///< of the connection
    wire::FrameChannel channel_{wire::server_frame_max};
    bool up_ = false;
    v1::Person person_;
    std::uint64_t last_id_ = 0;
    std::optional<Pending> pending_;
    std::map<std::uint64_t, v1::Request> asked_;  ///< by their ids
    std::map<std::uint64_t, int> sends_;
    bool by_changes_;
    bool has_board_ = false;
    v1::BoardReply board_;
};

}  // namespace fieldpeg::simulation
