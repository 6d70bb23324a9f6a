#pragma once

#include <atomic>
#include <cstddef>
#include <string>
#include <thread>

namespace fieldpeg::testing {

/// A line to a database that can be cut after so many bytes of one way. It lies between sockets in
/// the database's folder: whoever uses `port` comes through it. Each connection through it is cut
/// at once when one is.
class CutLine {
public:
    enum class Way { to_database, from_database };
    static constexpr int port = 5433;

    explicit CutLine(const std::string& folder);
    ~CutLine();
    CutLine(const CutLine&) = delete;
    CutLine& operator=(const CutLine&) = delete;

    /// Of the connection that writes the log: it ends after so many more bytes.
    void cut_after(Way way, std::size_t bytes);
    bool was_cut() const { return was_cut_; }
    /// Nobody comes through any more.
    void stays_cut(bool so) { stays_cut_ = so; }

private:
    void carry();

    std::string folder_;
    int listener_;
    std::atomic<bool> ends_ = false, was_cut_ = false, stays_cut_ = false, is_armed_ = false;
    std::atomic<Way> way_ = Way::to_database;
    std::atomic<std::size_t> left_ = 0;
    std::thread thread_;
};

}  // namespace fieldpeg::testing
