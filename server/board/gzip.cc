#include "server/board/gzip.h"

#include <google/protobuf/io/gzip_stream.h>
#include <google/protobuf/io/zero_copy_stream_impl_lite.h>

#include <cstddef>
#include <cstring>

namespace fieldpeg::board {

std::string gzipped(std::string_view text, Effort effort) {
    namespace io = google::protobuf::io;
    std::string out;
    {
        io::StringOutputStream into(&out);
        io::GzipOutputStream::Options options;
        options.compression_level = static_cast<int>(effort);
        io::GzipOutputStream gzip(&into, options);
        void* room = nullptr;
        int size = 0;
        while (!text.empty() && gzip.Next(&room, &size)) {
            const auto part = text.substr(0, static_cast<std::size_t>(size));
            std::memcpy(room, part.data(), part.size());
            text.remove_prefix(part.size());
            gzip.BackUp(size - static_cast<int>(part.size()));
        }
    }
    return out;
}

}  // namespace fieldpeg::board
