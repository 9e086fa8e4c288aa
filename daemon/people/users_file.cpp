#include "daemon/people/users.hpp"
#include "daemon/seal/open_file.hpp"

#include <fmt/format.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <fcntl.h>
#include <filesystem>
#include <sys/file.h>
#include <sys/stat.h>
#include <system_error>
#include <thread>
#include <unistd.h>

namespace stillmark::people {

using seal::Descriptor;
using seal::reason;
using seal::write_all;

namespace {

/// 200 people with the longest names and hashes need less.
constexpr std::size_t largest_file = 1U << 20U;

UsersTrouble file_trouble(const std::string& path, const std::string& what) {
    return {UsersTrouble::Kind::file, fmt::format("{}: {}", path, what)};
}

/// Passwords are hashed, but a hash that anybody can read can be guessed at for years; and who can write is whoever he
/// wants.
std::optional<UsersTrouble> objection_to_mode(const std::string& path, const struct stat& found) {
    if (!S_ISREG(found.st_mode)) return file_trouble(path, "this is no file; name the users file");
    if ((found.st_mode & 077U) != 0)
        return file_trouble(path,
                            fmt::format("others than its owner may read or write it (mode {:03o}); say: chmod 600 {}",
                                        found.st_mode & 0777U, path));
    return std::nullopt;
}

/// Who may rename files in a folder can put another file in this one's place.
std::optional<UsersTrouble> objection_to_folder(const std::string& path, const std::string& folder,
                                                const struct stat& found) {
    if ((found.st_mode & S_IWOTH) != 0 && (found.st_mode & S_ISVTX) == 0)
        return file_trouble(path, fmt::format("everybody may change the folder {} (mode {:03o}); say: chmod o-w {}",
                                              folder, found.st_mode & 0777U, folder));
    return std::nullopt;
}

std::string folder_of(const std::string& path) {
    std::error_code error;
    return std::filesystem::absolute(path, error).parent_path().string();
}

/// The file that a link stands for, so that a new one takes that file's place and not the link's.
std::string without_links(const std::string& path) {
    std::error_code error;
    auto found = std::filesystem::canonical(path, error);
    return error ? path : found.string();
}

/// The folder, held against others who change files in it.
std::optional<UsersTrouble> hold(const Descriptor& folder, const std::string& path) {
    for (int tries = 0; tries < 100; ++tries) {
        if (::flock(folder.number(), LOCK_EX | LOCK_NB) == 0) return std::nullopt;
        if (errno != EWOULDBLOCK && errno != EINTR)
            return file_trouble(path, "its folder cannot be locked: " + reason());
        std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
    return file_trouble(path, "somebody else has been changing it for 2 s; try again");
}

/// A file made by root belongs to whom the old one, or the folder, belongs: otherwise the service could not read it.
bool give_to_owner(int file, const std::string& path, const Descriptor& folder) {
    if (::geteuid() != 0) return true;
    struct stat owner {};
    if (::stat(path.c_str(), &owner) != 0 && ::fstat(folder.number(), &owner) != 0) return false;
    return ::fchown(file, owner.st_uid, owner.st_gid) == 0;
}

/// Beside the file, then in its place: a reader sees the old text or the new one, whatever happens in between.
std::optional<UsersTrouble> write_in_place_of(const std::string& path, const Descriptor& folder,
                                              const std::string& text) {
    std::string beside = path + ".XXXXXX";
    const Descriptor file(::mkostemp(beside.data(), O_CLOEXEC)); // its mode is 0600
    if (!file.is_open()) return file_trouble(path, "nothing can be written beside it: " + reason());
    const bool done = give_to_owner(file.number(), path, folder) && write_all(file.number(), text) &&
                      ::fsync(file.number()) == 0 && ::rename(beside.c_str(), path.c_str()) == 0;
    if (!done) {
        const auto why = file_trouble(path, "it could not be written: " + reason() + "; it stays as it was");
        ::unlink(beside.c_str());
        return why;
    }
    if (::fsync(folder.number()) != 0)
        return file_trouble(path, "it was written, but may be lost with the power: " + reason());
    return std::nullopt;
}

} // namespace

UsersResult<Users> load_users(const std::string& path) {
    const Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY));
    if (!file.is_open()) {
        if (errno == ENOENT)
            return file_trouble(
                path,
                fmt::format("there is no such file; make it: stillmark users {} add NAME --role administrator", path));
        return file_trouble(path, "it cannot be opened: " + reason());
    }
    struct stat found {};
    if (::fstat(file.number(), &found) != 0) return file_trouble(path, "it cannot be looked at: " + reason());
    if (const auto wrong = objection_to_mode(path, found)) return *wrong;
    const std::string folder = folder_of(without_links(path));
    struct stat around {};
    if (::stat(folder.c_str(), &around) != 0) return file_trouble(path, "its folder cannot be looked at: " + reason());
    if (const auto wrong = objection_to_folder(path, folder, around)) return *wrong;
    std::string text;
    std::array<char, 16384> part{};
    while (text.size() <= largest_file) {
        const auto n = ::read(file.number(), part.data(), part.size());
        if (n < 0 && errno == EINTR) continue;
        if (n < 0) return file_trouble(path, "it cannot be read: " + reason());
        if (n == 0) break;
        text.append(part.data(), static_cast<std::size_t>(n));
    }
    if (text.size() > largest_file) return file_trouble(path, "it is larger than 1 MiB; this is no users file");
    auto users = read_users(text);
    if (!users) return file_trouble(path, users.error().message);
    return users;
}

UsersResult<Users> change_users(const std::string& named, bool may_make,
                                const std::function<std::optional<std::string>(Users&)>& change) {
    const std::string path = without_links(named);
    const std::string around = folder_of(path);
    const Descriptor folder(::open(around.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
    if (!folder.is_open())
        return file_trouble(path, fmt::format("the folder {} cannot be opened: {}", around, reason()));
    if (const auto wrong = hold(folder, path)) return *wrong;
    std::error_code error;
    const bool is_new = !std::filesystem::exists(std::filesystem::symlink_status(path, error));
    auto users = is_new && may_make ? UsersResult<Users>(Users{}) : load_users(path);
    if (!users) return users;
    if (const auto wrong = change(*users)) return UsersTrouble{UsersTrouble::Kind::refused, *wrong};
    if (const auto wrong = write_in_place_of(path, folder, users_text(*users))) return *wrong;
    return users;
}

std::string users_stamp(const std::string& path) {
    struct stat found {};
    if (::stat(path.c_str(), &found) != 0) return {};
    // The mode too: a file that others may read now is no longer taken.
    return fmt::format("{}.{}.{}.{}.{:o}", found.st_ino, found.st_mtim.tv_sec, found.st_mtim.tv_nsec, found.st_size,
                       found.st_mode);
}

} // namespace stillmark::people
