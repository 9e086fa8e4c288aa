#pragma once

#include <atomic>

namespace stillmark::journal::testing {

/// Stands between SQLite and the disk for as long as it lives: it fails on demand, and watches in which order the
/// write-ahead log is written and forced to the disk. One at a time.
class ShakyDisk {
  public:
    ShakyDisk();
    ~ShakyDisk();
    ShakyDisk(const ShakyDisk&) = delete;
    ShakyDisk& operator=(const ShakyDisk&) = delete;

    /// An SQLite result code that the next writes to the write-ahead log give, or 0.
    std::atomic<int> write_gives{0};
    /// Likewise for forcing it to the disk.
    std::atomic<int> sync_gives{0};
    /// Bytes were written to the log that are not forced to the disk yet.
    std::atomic<bool> unsynced{false};
    std::atomic<int> syncs{0};
};

} // namespace stillmark::journal::testing
