#include "daemon/seal/file_copy.hpp"

#include "daemon/seal/open_file.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

namespace stillmark::seal {

namespace {

constexpr std::size_t bytes_a_read = 1U << 20U;

/// Reads it all; each part goes to `take` too, which says whether it could be taken.
template <class Take>
SealResult<FileContent> read_through(const std::string& path, const Take& take) {
    const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY));
    if (!file.is_open())
        return SealError{fmt::format("{}: cannot be opened ({}); check the path and the permissions", path, reason())};
    struct stat found {};
    if (::fstat(file.number(), &found) != 0 || !S_ISREG(found.st_mode))
        return SealError{fmt::format("{}: is no file; check the path", path)};
    Sha256 sha;
    FileContent content;
    std::string part(bytes_a_read, '\0');
    for (;;) {
        const auto n = ::read(file.number(), part.data(), part.size());
        if (n < 0 && errno == EINTR) continue;
        if (n < 0) return SealError{fmt::format("{}: cannot be read ({}); check the disk", path, reason())};
        if (n == 0) break;
        const std::string_view read(part.data(), static_cast<std::size_t>(n));
        sha.add(read);
        content.bytes += read.size();
        if (auto taken = take(read); !taken) return taken.error();
    }
    content.sha256 = sha.finish();
    return content;
}

} // namespace

SealResult<FileContent> content_of(const std::string& path) {
    return read_through(path, [](std::string_view) { return SealResult<void>(); });
}

SealResult<FileContent> copy_file(const std::string& from, const std::string& to, unsigned mode) {
    const auto trouble = [&to] {
        return SealError{
            fmt::format("{}: cannot be written ({}); free some space there, or give another folder", to, reason())};
    };
    const Descriptor file(::open(to.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600));
    if (!file.is_open()) return trouble();
    auto content = read_through(from, [&](std::string_view part) -> SealResult<void> {
        if (!write_all(file.number(), part)) return trouble();
        return {};
    });
    if (content && (::fchmod(file.number(), mode) != 0 || ::fsync(file.number()) != 0)) content = trouble();
    if (!content) ::unlink(to.c_str());
    return content;
}

} // namespace stillmark::seal
