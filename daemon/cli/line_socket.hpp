#pragma once

#include "protocols/instant.hpp"

#include <boost/system/result.hpp>

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace stillmark::cli {

/// Why no usable answer came, as a sentence for a person.
struct Trouble {
    std::string message;
};
template <class T>
using Outcome = boost::system::result<T, Trouble>;
[[noreturn]] void throw_exception_from_error(const Trouble& trouble, const boost::source_location& at);

/// Lines over a Unix stream socket, never blocking: the owner polls the descriptor and pumps.
class LineSocket {
  public:
    /// A line longer than this is taken for a fault of the other side: the connection is given up.
    static constexpr std::size_t longest_line = std::size_t{16} << 20U;

    /// Connects to the service's socket. A Unix socket connects at once or not at all.
    static Outcome<LineSocket> connect(const std::string& path);
    /// Takes over a connected descriptor.
    explicit LineSocket(int descriptor);
    LineSocket(LineSocket&& other) noexcept;
    LineSocket& operator=(LineSocket&& other) noexcept;
    LineSocket(const LineSocket&) = delete;
    LineSocket& operator=(const LineSocket&) = delete;
    ~LineSocket();

    int descriptor() const { return descriptor_; }
    bool wants_to_write() const { return !unsent_.empty(); }
    /// Queues one line and sends what can be sent now.
    std::optional<Trouble> send(std::string_view line);
    /// Reads and writes what can be now; trouble means that the connection is of no use any more. Lines that came
    /// before the trouble can still be taken.
    std::optional<Trouble> pump();
    /// The next whole line, without its end.
    std::optional<std::string> take_line();

  private:
    std::optional<Trouble> write_some();

    int descriptor_ = -1;
    std::string unsent_;
    std::string received_;
    std::size_t taken_ = 0;    ///< bytes of received_ that were handed out
    std::size_t searched_ = 0; ///< bytes of received_ known to hold no further line end
};

} // namespace stillmark::cli
