#include "tests/support/pegs.h"

#include "server/book/channels.h"
#include "server/book/library.h"

#include <fmt/format.h>
#include <google/protobuf/io/coded_stream.h>
#include <google/protobuf/io/zero_copy_stream_impl_lite.h>

#include <stdexcept>

namespace fieldpeg::testing {
namespace {

std::string without_claim(const std::string& text, const std::string& table) {
    return text.substr(0, text.find(table));
}

}  // namespace

std::string unclaimed(const PilotText& pilot) {
    return without_claim(text_of(pilot), "[pilot.claim]");
}

std::string unclaimed(const RelayText& relay) {
    return without_claim(text_of(relay), "[relay.claim]");
}

std::string club_day() {
    const std::string powers = "power_mw = [25, 200, 600]";
    const auto sheet =
        field_text() +
        unclaimed(PilotText{.name = "Ann", .place = "line-1", .more_video = powers}) +
        unclaimed(PilotText{.name = "Bob", .place = "line-2", .more_video = powers}) +
        unclaimed(PilotText{.name = "Dee", .place = "chair"}) +
        unclaimed(RelayText{.name = "mast", .owner = "Dee", .more = powers});
    return sheet;
}

std::string crowded_day() {
    std::string text = "[day]\nname = \"Crowd\"\ndate = 2026-06-12\n[field]\nname = \"Meadow\"\n";
    for (int i = 0; i < 10; ++i)
        text += fmt::format("[[field.place]]\nname = \"p{0}\"\nat_m = [{1}, 0]\nheight_m = 1.7\n",
                            i, i);
    text += "[[field.area]]\nname = \"c\"\ncentre_m = [0, 80]\nradius_m = 50\nheight_m = [3, 40]\n";
    for (int i = 0; i < 10; ++i)
        text += fmt::format(
            "[[pilot]]\nname = \"Pilot {0}\"\nplace = \"p{0}\"\narea = \"c\"\n[pilot.video]\n"
            "emission = \"fm-video\"\nantenna = \"circular-omni\"\npolarisation = \"rhcp\"\n"
            "power_mw = [25, 100, 200]\nchannels = [\"R1-R8\", \"F1-F8\", \"A1-A8\", \"E1-E8\"]\n"
            "[[pilot.receiver]]\nreceiver = \"fm-video-5g8\"\nantenna = \"circular-omni\"\n"
            "polarisation = \"rhcp\"\n",
            i);
    return text;
}

v1::Channel channel(const std::string& name) {
    std::string why;
    const auto found = book::ChannelNames(book::library().rows()).read(name, why);
    if (!found) throw std::logic_error(name + " " + why);
    return *found;
}

v1::Command claim(const std::string& transmitter, const std::string& wanted, double power_dbm) {
    v1::Command command;
    auto& asked = *command.mutable_claim();
    asked.set_transmitter(transmitter);
    *asked.mutable_channel() = channel(wanted);
    asked.set_power_dbm(power_dbm);
    return command;
}

v1::Command release(const std::string& transmitter, const std::string& reason) {
    v1::Command command;
    command.mutable_release()->set_transmitter(transmitter);
    command.mutable_release()->set_reason(reason);
    return command;
}

v1::Command on(const std::string& transmitter) {
    v1::Command command;
    command.mutable_on()->set_transmitter(transmitter);
    return command;
}

v1::Command off(const std::string& transmitter) {
    v1::Command command;
    command.mutable_off()->set_transmitter(transmitter);
    return command;
}

v1::Command nod(const std::string& name) {
    v1::Command command;
    command.mutable_nod()->set_name(name);
    return command;
}

v1::Command withdraw_key(const std::string& name) {
    v1::Command command;
    command.mutable_withdraw_key()->set_name(name);
    return command;
}

v1::Command on_already(const std::string& transmitter, const std::string& at, double power_dbm) {
    v1::Command command;
    auto& asked = *command.mutable_on();
    asked.set_transmitter(transmitter);
    asked.set_already(true);
    *asked.mutable_channel() = channel(at);
    asked.set_power_dbm(power_dbm);
    return command;
}

v1::Query board() {
    v1::Query query;
    query.mutable_board();
    return query;
}

v1::Query log_of(const std::string& kind) {
    v1::Query query;
    query.mutable_log()->set_kind(kind);
    return query;
}

std::string bytes_of(const google::protobuf::Message& message) {
    std::string bytes;
    google::protobuf::io::StringOutputStream into(&bytes);
    google::protobuf::io::CodedOutputStream out(&into);
    out.SetSerializationDeterministic(true);
    message.SerializeToCodedStream(&out);
    out.Trim();
    return bytes;
}

}  // namespace fieldpeg::testing
