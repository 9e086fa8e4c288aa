#include "daemon/cli/terminal.hpp"

#include "daemon/cli/follow_keys.hpp"

#include <clocale>
#include <cstdlib>
#include <cstring>

#define NCURSES_NOMACROS
#include <fmt/format.h>

#include <curses.h>
#include <langinfo.h>
#include <unistd.h>

namespace stillmark::cli {

namespace {

/// Keys of the numeric pad in the mode in which terminals send them as sequences: ESC O p is 0, and so on. They are
/// given codes of their own above all of ncurses', since a dial is read in numbers.
constexpr int pad_codes = 0x4000;
constexpr const char* pad = "pqrstuvwxynlmMj";
constexpr const char* pad_meaning = "0123456789.,-\n*";

int attributes(Line::Weight weight) {
    switch (weight) {
    case Line::Weight::bold:
        return static_cast<int>(A_BOLD);
    case Line::Weight::reverse:
        return static_cast<int>(A_REVERSE);
    default:
        return static_cast<int>(A_NORMAL);
    }
}

/// The view's own code of a key, 0 for one that it does not know.
int known_key(int code) {
    if (code >= pad_codes && code < pad_codes + static_cast<int>(std::strlen(pad)))
        code = static_cast<unsigned char>(pad_meaning[code - pad_codes]);
    if (code == '\r' || code == '\n' || code == KEY_ENTER) return static_cast<int>(Key::enter);
    if (code == 127 || code == '\b' || code == KEY_BACKSPACE) return static_cast<int>(Key::backspace);
    if (code == '\t') return static_cast<int>(Key::tab);
    return code >= ' ' && code <= '~' ? code : 0;
}

std::string without_utf8(const std::string& text) {
    std::string plain;
    for (const char byte : text)
        if ((static_cast<unsigned char>(byte) & 0xC0U) != 0x80U)
            plain.push_back((static_cast<unsigned char>(byte) & 0x80U) != 0 ? '?' : byte);
    return plain;
}

} // namespace

Outcome<std::unique_ptr<Terminal>> Terminal::open() {
    if (::isatty(STDIN_FILENO) == 0 || ::isatty(STDOUT_FILENO) == 0)
        return Trouble{"the live view needs a terminal; for scripts there is: stillmark status --json"};
    const char* kind = std::getenv("TERM");
    if (kind == nullptr || *kind == '\0') return Trouble{"TERM is not set: the kind of this terminal is not known"};
    static_cast<void>(std::setlocale(LC_CTYPE, ""));
    SCREEN* screen = ::newterm(nullptr, stdout, stdin);
    if (screen == nullptr) return Trouble{fmt::format("TERM={}: this kind of terminal is not known", kind)};
    return std::unique_ptr<Terminal>(new Terminal(screen));
}

Terminal::Terminal(void* screen) : screen_(screen), utf8_(std::strcmp(::nl_langinfo(CODESET), "UTF-8") == 0) {
    constexpr int escape_wait_ms = 50;
    ::set_term(static_cast<SCREEN*>(screen_));
    ::cbreak();
    ::noecho();
    ::nonl();
    ::keypad(stdscr, true);
    ::nodelay(stdscr, true);
    ::set_escdelay(escape_wait_ms);
    ::curs_set(0);
    for (int i = 0; pad[i] != '\0'; ++i)
        ::define_key(fmt::format("\033O{}", pad[i]).c_str(), pad_codes + i);
}

Terminal::~Terminal() {
    ::endwin();
    ::delscreen(static_cast<SCREEN*>(screen_));
}

std::size_t Terminal::columns() const {
    return static_cast<std::size_t>(::getmaxx(stdscr));
}
std::size_t Terminal::rows() const {
    return static_cast<std::size_t>(::getmaxy(stdscr));
}

void Terminal::draw(const std::vector<Line>& lines) {
    ::werase(stdscr);
    int row = 0;
    for (const Line& line : lines) {
        const std::string text = utf8_ ? line.text : without_utf8(line.text);
        ::wattrset(stdscr, attributes(line.weight));
        ::mvwaddnstr(stdscr, row++, 0, text.c_str(), static_cast<int>(text.size()));
    }
    ::wattrset(stdscr, static_cast<int>(A_NORMAL));
    ::wrefresh(stdscr);
}

std::vector<int> Terminal::keys() {
    constexpr int most = 64;
    std::vector<int> pressed;
    for (int i = 0; i < most; ++i) {
        const int code = ::wgetch(stdscr);
        if (code == ERR) break;
        if (code == static_cast<int>(Key::escape)) {
            // What follows at once belongs to a key that this terminal's description does not know; its letters must
            // not be taken for keys of their own.
            const int next = ::wgetch(stdscr);
            if (next == ERR) {
                pressed.push_back(code);
                continue;
            }
            ::flushinp();
            break;
        }
        if (code == '\f' || code == KEY_RESIZE) ::clearok(stdscr, true);
        if (const int key = known_key(code); key != 0) pressed.push_back(key);
    }
    return pressed;
}

void Terminal::drop_keys() {
    ::flushinp();
}

} // namespace stillmark::cli
