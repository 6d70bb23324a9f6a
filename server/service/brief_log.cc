#include "server/service/brief_log.h"

#include <fmt/format.h>
#include <spdlog/details/null_mutex.h>
#include <spdlog/sinks/base_sink.h>

#include <array>
#include <chrono>
#include <mutex>
#include <utility>

namespace fieldpeg::service {
namespace {

class Brief : public spdlog::sinks::base_sink<std::mutex> {
public:
    explicit Brief(spdlog::sink_ptr into) : into_(std::move(into)) {}

private:
    using Message = spdlog::details::log_msg;

    struct Second {
        spdlog::log_clock::time_point began{};
        int written = 0;
        long left_out = 0;
    };

    void sink_it_(const Message& message) override {  // NOLINT: spdlog's name
        auto& second = of_level_.at(static_cast<std::size_t>(message.level));
        const auto age = message.time - second.began;
        if (age >= std::chrono::seconds(1) || age < std::chrono::seconds(0)) {
            tell_of(second, message);
            second = {message.time, 0, 0};
        }
        if (second.written == lines_a_second) {
            ++second.left_out;
            return;
        }
        ++second.written;
        into_->log(message);
    }

    void tell_of(const Second& second, const Message& like) {
        if (second.left_out == 0) return;
        const auto text = fmt::format("{} more lines like these", second.left_out);
        into_->log(Message(like.time, like.source, like.logger_name, like.level, text));
    }

    void flush_() override { into_->flush(); }  // NOLINT: likewise
    void set_pattern_(const std::string& pattern) override { into_->set_pattern(pattern); }
    void set_formatter_(std::unique_ptr<spdlog::formatter> formatter) override {
        into_->set_formatter(std::move(formatter));
    }

    spdlog::sink_ptr into_;
    std::array<Second, spdlog::level::n_levels> of_level_{};
};

}  // namespace

spdlog::sink_ptr brief(spdlog::sink_ptr into) {
    return std::make_shared<Brief>(std::move(into));
}

}  // namespace fieldpeg::service
