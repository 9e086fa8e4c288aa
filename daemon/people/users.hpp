#pragma once

#include "daemon/people/roles.hpp"

#include <boost/system/result.hpp>

#include <cstddef>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace stillmark::people {

constexpr std::size_t most_users = 200;

/// Why a users file cannot be taken, written or changed as asked: place, what was found, what would do.
struct UsersTrouble {
    enum class Kind { file, refused } kind = Kind::file;
    std::string message;
};
template <class T>
using UsersResult = boost::system::result<T, UsersTrouble>;
[[noreturn]] void throw_exception_from_error(const UsersTrouble& trouble, const boost::source_location& at);

struct User {
    std::string name;
    Roles roles;
    std::string password_hash;
    bool operator==(const User&) const = default;
};

/// The people of a bench, in the order in which they were added.
struct Users {
    std::vector<User> list;

    const User* find(std::string_view name) const;
    bool operator==(const Users&) const = default;
};

// Each says why it cannot be done, or does it.
std::optional<std::string> add_user(Users& users, User user);
std::optional<std::string> remove_user(Users& users, const std::string& name);
std::optional<std::string> set_password(Users& users, const std::string& name, const std::string& password_hash);

/// The file's text as JSON, and back. Every rule for names, roles and hashes is asked again: a person may have edited
/// it.
std::string users_text(const Users& users);
UsersResult<Users> read_users(const std::string& text);

/// Reads a users file. One that anybody but its owner may read or write is refused.
UsersResult<Users> load_users(const std::string& path);

/// Reads the file, changes what it holds and writes it back, whole or not at all, while nobody else does so. A file
/// that is not there begins empty where `may_make` allows. `change` says why it cannot be done, or nothing. Gives what
/// the file now holds. Blocks: it waits for the disk, and up to 2 s for others who change the file.
UsersResult<Users> change_users(const std::string& path, bool may_make,
                                const std::function<std::optional<std::string>(Users&)>& change);

/// Something that differs when the file was written anew; empty where there is none.
std::string users_stamp(const std::string& path);

} // namespace stillmark::people
