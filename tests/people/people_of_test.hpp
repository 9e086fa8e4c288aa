#pragma once

#include "daemon/people/password_hash.hpp"
#include "daemon/people/users.hpp"

#include <filesystem>
#include <fstream>
#include <map>
#include <sstream>
#include <stdexcept>
#include <stdlib.h>
#include <string>
#include <sys/stat.h>

namespace stillmark::people::testing {

/// A folder of its own for each test, removed afterwards.
class Folder {
  public:
    Folder() {
        std::string name = (std::filesystem::temp_directory_path() / "stillmark-people-XXXXXX").string();
        if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder");
        path_ = name;
    }
    ~Folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    std::string operator/(const char* name) const { return (path_ / name).string(); }
    const std::filesystem::path& path() const { return path_; }

  private:
    std::filesystem::path path_;
};

inline void write_file(const std::string& path, const std::string& text, mode_t mode = 0600) {
    std::ofstream(path, std::ios::binary) << text;
    ::chmod(path.c_str(), mode);
}

inline std::string text_of_file(const std::string& path) {
    std::stringstream text;
    text << std::ifstream(path, std::ios::binary).rdbuf();
    return text.str();
}

/// A hash at the least cost that is taken; made once.
inline std::string quick_hash(const std::string& password) {
    static std::map<std::string, std::string> made;
    std::string& text = made[password];
    if (text.empty()) {
        PasswordHash hash{{14, 8, 1}, Bytes(16, 7), {}};
        hash.key = scrypt(password, hash.salt, hash.cost, 32).value();
        text = text_of(hash);
    }
    return text;
}

} // namespace stillmark::people::testing
