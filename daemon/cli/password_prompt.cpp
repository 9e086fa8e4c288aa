#include "daemon/cli/password_prompt.hpp"

#include "daemon/people/password_hash.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <termios.h>
#include <unistd.h>

namespace stillmark::cli {

namespace {

/// More than a password may have, so that one that is too long is told so.
constexpr std::size_t longest_line = 4096;

/// What is typed is not shown while this lives. Typing ahead is forgotten, or part of it would have been seen.
class Unshown {
  public:
    Unshown() {
        if (::tcgetattr(STDIN_FILENO, &before_) != 0) return;
        termios silent = before_;
        silent.c_lflag &= ~static_cast<tcflag_t>(ECHO);
        silent.c_lflag |= static_cast<tcflag_t>(ECHONL | ICANON | ISIG);
        is_so_ = ::tcsetattr(STDIN_FILENO, TCSAFLUSH, &silent) == 0;
    }
    ~Unshown() {
        if (is_so_) ::tcsetattr(STDIN_FILENO, TCSAFLUSH, &before_);
    }
    Unshown(const Unshown&) = delete;
    Unshown& operator=(const Unshown&) = delete;
    bool is_so() const { return is_so_; }

  private:
    termios before_{};
    bool is_so_ = false;
};

/// A line without its end, byte by byte: what stands behind it belongs to others. Nothing where none came.
std::optional<std::string> read_line() {
    std::string line;
    while (line.size() <= longest_line) {
        char byte = 0;
        const auto n = ::read(STDIN_FILENO, &byte, 1);
        if (n < 0 && errno == EINTR) continue;
        if (n <= 0 && line.empty()) return std::nullopt;
        if (n <= 0 || byte == '\n') break;
        line.push_back(byte);
    }
    return line;
}

} // namespace

std::optional<std::string> ask_new_password(const std::string& for_whom, std::string& trouble) {
    if (::isatty(STDIN_FILENO) == 0) {
        auto line = read_line();
        if (!line) trouble = "no password came; give it as one line on standard input";
        return line;
    }
    const Unshown unshown;
    if (!unshown.is_so()) {
        trouble = "this terminal cannot hide what is typed; use another one";
        return std::nullopt;
    }
    fmt::print(stderr, "New password for {} (not shown): ", for_whom);
    auto first = read_line();
    if (!first) {
        trouble = "no password was typed; nothing was changed";
        return std::nullopt;
    }
    fmt::print(stderr, "The same once more: ");
    auto second = read_line();
    const bool same = second && *first == *second;
    if (second) people::wipe(*second);
    if (same) return first;
    people::wipe(*first);
    trouble = "the two are not the same; nothing was changed, begin again";
    return std::nullopt;
}

} // namespace stillmark::cli
