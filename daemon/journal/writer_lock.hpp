#pragma once

#include "daemon/journal/journal.hpp"

#include <string>

namespace stillmark::journal {

/// The right to write one journal, held as a flock on the file `JOURNAL.writer` beside it. The kernel lets go of it
/// when its process ends in whatever way, so a killed service never blocks the next. (A lock on the journal itself
/// would not do: to close its descriptor would undo SQLite's own locks on that file.)
class WriterLock {
  public:
    static JournalResult<WriterLock> take(const std::string& journal_path);
    WriterLock(WriterLock&& other) noexcept : descriptor_(std::exchange(other.descriptor_, -1)) {}
    WriterLock& operator=(WriterLock&&) = delete;
    ~WriterLock() { release(); }
    void release();

  private:
    explicit WriterLock(int descriptor) : descriptor_(descriptor) {}
    int descriptor_;
};

} // namespace stillmark::journal
