#include "daemon/seal/whole_file.hpp"

#include "daemon/seal/open_file.hpp"

#include <fmt/format.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <fcntl.h>
#include <filesystem>
#include <sys/stat.h>
#include <system_error>
#include <unistd.h>
#include <utility>

namespace stillmark::seal {

namespace {

constexpr std::size_t largest_file = 1U << 16U;

SealError trouble(const std::string& path, const std::string& what) {
    return {fmt::format("{}: {}", path, what)};
}

} // namespace

SealResult<std::string> read_small_file(const std::string& path, ReadableBy readable) {
    const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY));
    if (!file.is_open())
        return trouble(path, "cannot be opened (" + reason() + "); check the path and the permissions");
    struct stat found {};
    if (::fstat(file.number(), &found) != 0) return trouble(path, "cannot be looked at (" + reason() + ")");
    if (!S_ISREG(found.st_mode)) return trouble(path, "is no file; check the path");
    if (readable == ReadableBy::its_owner && (found.st_mode & 077U) != 0)
        return trouble(path, fmt::format("others than its owner may read or write it (mode {:03o}), so what it signs "
                                         "proves nothing; say: chmod 600 {}",
                                         found.st_mode & 0777U, path));
    std::string text;
    std::array<char, 4096> part{};
    while (text.size() <= largest_file) {
        const auto n = ::read(file.number(), part.data(), part.size());
        if (n < 0 && errno == EINTR) continue;
        if (n < 0) return trouble(path, "cannot be read (" + reason() + ")");
        if (n == 0) return {boost::system::in_place_value, std::move(text)};
        text.append(part.data(), static_cast<std::size_t>(n));
    }
    return trouble(path, "is larger than 64 KiB and so not what it should be; check the path");
}

SealResult<void> write_whole_file(const std::string& path, std::string_view text, ReadableBy readable,
                                  Present present) {
    std::string beside = path + ".XXXXXX";
    const Descriptor file(::mkostemp(beside.data(), O_CLOEXEC)); // its mode is 0600
    if (!file.is_open())
        return trouble(path, "cannot be written (" + reason() + "); give a folder that this program may write in");
    const auto put_in_place = [&] {
        return present == Present::is_replaced
                   ? ::rename(beside.c_str(), path.c_str()) == 0
                   : ::renameat2(AT_FDCWD, beside.c_str(), AT_FDCWD, path.c_str(), RENAME_NOREPLACE) == 0;
    };
    const bool done = write_all(file.number(), text) &&
                      (readable == ReadableBy::its_owner || ::fchmod(file.number(), 0644) == 0) &&
                      ::fsync(file.number()) == 0 && put_in_place();
    if (!done) {
        const auto why = trouble(path, "could not be written (" + reason() + "); nothing was changed");
        ::unlink(beside.c_str());
        return why;
    }
    return keep_names_of(path);
}

SealResult<void> keep_names_of(const std::string& path_in_folder) {
    std::error_code error;
    const auto around = std::filesystem::absolute(path_in_folder, error).parent_path();
    const Descriptor folder(::open(around.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    if (!folder.is_open() || ::fsync(folder.number()) != 0)
        return trouble(path_in_folder, "was written, but may be lost with the power (" + reason() + ")");
    return {};
}

} // namespace stillmark::seal
