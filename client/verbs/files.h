#pragma once

#include "server/refusal/refusal.h"

#include <sys/types.h>
#include <cstddef>
#include <string>
#include <string_view>

/// Files that verbs write: each of them whole, or not at all.
namespace fieldpeg::verbs {

/// A file that was not there before. Unless it is filled it is taken away again.
class NewFile {
public:
    /// Open for writing, and so much of it on the disk already; refused where there is one.
    static Result<NewFile> make(const std::string& path, mode_t mode, std::size_t room_bytes = 0);
    ~NewFile();
    NewFile(NewFile&& other) noexcept;
    NewFile(const NewFile&) = delete;
    NewFile& operator=(const NewFile&) = delete;
    NewFile& operator=(NewFile&&) = delete;

    /// Writes all of it. It stays from then on.
    Result<void> fill(std::string_view text);

private:
    NewFile(std::string path, int file) : path_(std::move(path)), file_(file) {}

    std::string path_;
    int file_;
    bool is_filled_ = false;
};

/// Puts a text in the place of a file, or where there is none: all of it, or what was there stays.
/// Where the path leads to no file, to a pipe or a terminal, it is written there.
Result<void> put_file(const std::string& path, std::string_view text);

}  // namespace fieldpeg::verbs
