#pragma once

#include "daemon/cli/frame_view.hpp"
#include "daemon/cli/line_socket.hpp"

#include <cstddef>
#include <memory>
#include <vector>

namespace stillmark::cli {

/// The terminal in full-screen use, from construction to destruction. One at a time.
class Terminal {
  public:
    /// Trouble where standard input and output are no terminal, or its kind is not known.
    static Outcome<std::unique_ptr<Terminal>> open();
    Terminal(const Terminal&) = delete;
    Terminal& operator=(const Terminal&) = delete;
    ~Terminal();

    std::size_t columns() const;
    std::size_t rows() const;
    void draw(const std::vector<Line>& lines);
    /// The keys that were pressed since: printable characters and those of `Key`. Keys that the view does not know,
    /// and sequences that the terminal sends for them, are dropped whole.
    std::vector<int> keys();
    /// Forgets what was typed and not read yet.
    void drop_keys();

  private:
    explicit Terminal(void* screen);
    void* screen_;
    bool utf8_;
};

} // namespace stillmark::cli
