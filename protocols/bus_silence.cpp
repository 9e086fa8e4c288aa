#include "protocols/bus_silence.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace stillmark::protocols {

Result<SilenceFound> await_silence(ListenedLine& line, const SilenceWanted& wanted) {
    const auto patience = std::max(wanted.quarantine_until, line.now()) + never_silent_after;
    SilenceFound found{wanted.last_byte, {}};
    for (;;) {
        const auto readable = line.wait(std::max(found.last_byte + wanted.silence, wanted.quarantine_until));
        if (readable == Readable::nothing) return found;
        if (readable == Readable::gone || !line.take(found.stray))
            return Failure{Fault::link_down, "the adapter is gone"};
        found.last_byte = line.now();
        if (found.last_byte > patience)
            return Failure{Fault::bad_frame,
                           fmt::format("the line is never silent; {} stray bytes in a second", found.stray.size())};
    }
}

} // namespace stillmark::protocols
