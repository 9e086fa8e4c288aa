#include "daemon/journal/writer_lock.hpp"

#include <fmt/format.h>

#include <array>
#include <cerrno>
#include <cstring>
#include <fcntl.h>
#include <filesystem>
#include <sys/file.h>
#include <unistd.h>

namespace stillmark::journal {
namespace {

std::string holder_written_in(int descriptor) {
    std::array<char, 32> text{};
    const ssize_t length = ::pread(descriptor, text.data(), text.size(), 0);
    if (length <= 0) return "another process";
    return "process " + std::string(text.data(), static_cast<std::size_t>(length));
}

} // namespace

JournalResult<WriterLock> WriterLock::take(const std::string& journal_path) {
    // By its real path, so that two names of one journal meet at one lock.
    std::error_code wrong;
    const auto real = std::filesystem::weakly_canonical(std::filesystem::absolute(journal_path, wrong), wrong);
    const std::string lock_path = real.string() + ".writer";
    const int descriptor = ::open(lock_path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644);
    if (descriptor < 0)
        return JournalError{fmt::format("{}: cannot be opened ({}); give the user of this program permission to write "
                                        "that folder",
                                        lock_path, std::strerror(errno))};
    WriterLock lock(descriptor);
    if (::flock(descriptor, LOCK_EX | LOCK_NB) != 0)
        return JournalError{fmt::format("{}: is being written by {}; stop that one first, or give another journal",
                                        journal_path, holder_written_in(descriptor))};
    const std::string own = std::to_string(::getpid());
    // Only a message reads the number: the lock holds without it.
    if (::ftruncate(descriptor, 0) == 0) (void)!::pwrite(descriptor, own.data(), own.size(), 0);
    return lock;
}

void WriterLock::release() {
    if (descriptor_ >= 0) ::close(std::exchange(descriptor_, -1));
}

} // namespace stillmark::journal
