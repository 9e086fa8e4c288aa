#include "daemon/seal/open_file.hpp"

#include <cerrno>
#include <system_error>
#include <unistd.h>

namespace stillmark::seal {

Descriptor::~Descriptor() {
    if (number_ >= 0) ::close(number_);
}

bool write_all(int file, std::string_view text) {
    while (!text.empty()) {
        const auto n = ::write(file, text.data(), text.size());
        if (n < 0 && errno == EINTR) continue;
        if (n <= 0) return false;
        text.remove_prefix(static_cast<std::size_t>(n));
    }
    return true;
}

std::string reason() {
    return std::generic_category().message(errno);
}

} // namespace stillmark::seal
