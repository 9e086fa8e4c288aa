#include "protocols/exclusive_port.hpp"

#include "protocols/descriptor.hpp"
#include "protocols/serial_line.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <cstring>
#include <fcntl.h>
#include <filesystem>
#include <fstream>
#include <optional>
#include <sstream>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>
#include <utility>

namespace stillmark::protocols {
namespace {

/// The process that has the file locked, by the kernel's table (proc_locks(5)): "1: FLOCK ADVISORY WRITE PID
/// MAJ:MIN:INODE". Numbers of files are given anew on each file system, and those of terminals are small.
std::optional<int> locker_of(const struct stat& about) {
    const std::string wanted = fmt::format("{:02x}:{:02x}:{}", major(about.st_dev), minor(about.st_dev), about.st_ino);
    std::ifstream locks("/proc/locks");
    for (std::string line; std::getline(locks, line);) {
        std::istringstream words(line);
        std::string number, kind, advisory, access, file;
        int process = 0;
        if (!(words >> number >> kind >> advisory >> access >> process >> file) || kind != "FLOCK") continue;
        if (process > 0 && file == wanted) return process;
    }
    return std::nullopt;
}

/// Another process that has the device open, where this one may look at its descriptors.
std::optional<int> opener_of(const struct stat& about) {
    std::error_code error;
    for (std::filesystem::directory_iterator process("/proc", error), end; !error && process != end;
         process.increment(error)) {
        const std::string name = process->path().filename().string();
        if (name.find_first_not_of("0123456789") != std::string::npos || std::stol(name) == getpid()) continue;
        std::error_code closed;
        for (std::filesystem::directory_iterator file(process->path() / "fd", closed), last; !closed && file != last;
             file.increment(closed)) {
            struct stat open {};
            if (stat(file->path().c_str(), &open) == 0 && S_ISCHR(open.st_mode) && open.st_rdev == about.st_rdev)
                return std::stoi(name);
        }
    }
    return std::nullopt;
}

Failure refusal(const std::string& device) {
    return {Fault::link_down,
            fmt::format("the port is in use by {}; end it, or give this bus another device", holder_of(device))};
}

} // namespace

std::string holder_of(const std::string& device) {
    struct stat about {};
    if (stat(device.c_str(), &about) != 0) return "another program";
    auto process = locker_of(about);
    if (!process) process = opener_of(about);
    if (!process) return "another program";
    std::string name;
    std::ifstream(fmt::format("/proc/{}/comm", *process)) >> name;
    return fmt::format("{} (process {})", name.empty() ? "a program" : name, *process);
}

Result<ExclusivePort> ExclusivePort::take(const std::string& device) {
    const int opened = open(device.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (opened < 0 && errno == EBUSY) return refusal(device);
    if (opened < 0) return Failure{Fault::link_down, std::strerror(errno)};
    if (isatty(opened) == 0) {
        ::close(opened);
        return Failure{Fault::link_down, "it is not a terminal"};
    }
    ExclusivePort port(move_above_select(opened));
    if (flock(port.descriptor_, LOCK_EX | LOCK_NB) != 0) return refusal(device);
    return port;
}

void ExclusivePort::keep_others_out() const {
    struct stat about {};
    if (fstat(descriptor_, &about) == 0 && !is_pseudo_terminal(about)) ioctl(descriptor_, TIOCEXCL);
}

ExclusivePort::ExclusivePort(ExclusivePort&& other) noexcept : descriptor_(std::exchange(other.descriptor_, -1)) {}

ExclusivePort& ExclusivePort::operator=(ExclusivePort&& other) noexcept {
    std::swap(descriptor_, other.descriptor_);
    return *this;
}

ExclusivePort::~ExclusivePort() {
    if (descriptor_ < 0) return;
    ioctl(descriptor_, TIOCNXCL);
    ::close(descriptor_);
}

} // namespace stillmark::protocols
