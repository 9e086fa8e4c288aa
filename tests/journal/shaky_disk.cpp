#include "journal/shaky_disk.hpp"

#include <sqlite3.h>

#include <cstddef>
#include <cstring>
#include <new>

namespace stillmark::journal::testing {
namespace {

ShakyDisk* present = nullptr;
sqlite3_vfs* real = nullptr;
sqlite3_vfs shaky{};

// SQLite gives each open file szOsFile bytes: ours first, the real file's behind.
struct File {
    sqlite3_file base;
    sqlite3_io_methods methods;
    bool is_log;
};
constexpr std::size_t own_size = (sizeof(File) + alignof(std::max_align_t) - 1) & ~(alignof(std::max_align_t) - 1);

sqlite3_file* behind(sqlite3_file* file) {
    return reinterpret_cast<sqlite3_file*>(reinterpret_cast<std::byte*>(file) + own_size);
}

template <auto Method, class... Arguments>
auto pass(sqlite3_file* file, Arguments... arguments) {
    return (behind(file)->pMethods->*Method)(behind(file), arguments...);
}

int write(sqlite3_file* file, const void* bytes, int count, sqlite3_int64 at) {
    if (reinterpret_cast<File*>(file)->is_log && present != nullptr) {
        if (present->write_gives != 0) return present->write_gives;
        present->unsynced = true;
    }
    return pass<&sqlite3_io_methods::xWrite>(file, bytes, count, at);
}

int sync(sqlite3_file* file, int flags) {
    if (!reinterpret_cast<File*>(file)->is_log || present == nullptr)
        return pass<&sqlite3_io_methods::xSync>(file, flags);
    if (present->sync_gives != 0) return present->sync_gives;
    const int code = pass<&sqlite3_io_methods::xSync>(file, flags);
    if (code == SQLITE_OK) {
        present->unsynced = false;
        ++present->syncs;
    }
    return code;
}

int open(sqlite3_vfs*, const char* name, sqlite3_file* file, int flags, int* flags_out) {
    auto* own = new (file) File{};
    own->is_log = (flags & SQLITE_OPEN_WAL) != 0;
    const int code = real->xOpen(real, name, behind(file), flags, flags_out);
    if (behind(file)->pMethods == nullptr) return code;
    own->methods = {2,
                    pass<&sqlite3_io_methods::xClose>,
                    pass<&sqlite3_io_methods::xRead, void*, int, sqlite3_int64>,
                    write,
                    pass<&sqlite3_io_methods::xTruncate, sqlite3_int64>,
                    sync,
                    pass<&sqlite3_io_methods::xFileSize, sqlite3_int64*>,
                    pass<&sqlite3_io_methods::xLock, int>,
                    pass<&sqlite3_io_methods::xUnlock, int>,
                    pass<&sqlite3_io_methods::xCheckReservedLock, int*>,
                    pass<&sqlite3_io_methods::xFileControl, int, void*>,
                    pass<&sqlite3_io_methods::xSectorSize>,
                    pass<&sqlite3_io_methods::xDeviceCharacteristics>,
                    pass<&sqlite3_io_methods::xShmMap, int, int, int, void volatile**>,
                    pass<&sqlite3_io_methods::xShmLock, int, int, int>,
                    pass<&sqlite3_io_methods::xShmBarrier>,
                    pass<&sqlite3_io_methods::xShmUnmap, int>,
                    nullptr,
                    nullptr};
    own->base.pMethods = &own->methods;
    return code;
}

} // namespace

ShakyDisk::ShakyDisk() {
    if (real == nullptr) {
        real = sqlite3_vfs_find(nullptr);
        shaky = *real;
        shaky.zName = "shaky";
        shaky.szOsFile = static_cast<int>(own_size) + real->szOsFile;
        shaky.xOpen = open;
    }
    present = this;
    sqlite3_vfs_register(&shaky, 1);
}

ShakyDisk::~ShakyDisk() {
    sqlite3_vfs_register(real, 1);
    present = nullptr;
}

} // namespace stillmark::journal::testing
