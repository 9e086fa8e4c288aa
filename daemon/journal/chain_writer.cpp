#include "daemon/journal/chain_writer.hpp"

namespace stillmark::journal {

namespace {

JournalResult<void> run(Statement& insert) {
    if (auto done = insert.step(); !done) return done.error();
    return {};
}

} // namespace

JournalResult<ChainWriter> ChainWriter::on(const Database& database) {
    ChainWriter writer;
    const auto head = last_link_in(database);
    if (!head) return head.error();
    writer.head_ = *head;
    const std::pair<Statement*, const char*> inserts[] = {
        {&writer.insert_event_, "INSERT INTO events VALUES (?, ?, ?, ?)"},
        {&writer.insert_block_, "INSERT INTO blocks VALUES (?, ?, ?, ?)"},
        {&writer.insert_link_, "INSERT INTO links VALUES (?, ?, ?, ?)"},
        {&writer.insert_checkpoint_, "INSERT INTO checkpoints VALUES (?, ?, ?, ?)"}};
    for (const auto& [statement, sql] : inserts) {
        auto made = database.prepare(sql);
        if (!made) return made.error();
        *statement = std::move(*made);
    }
    return {boost::system::in_place_value, std::move(writer)};
}

JournalResult<void> ChainWriter::put(const Checkpoint& checkpoint) {
    being_made_.take(checkpoint);
    insert_checkpoint_.bind(1, checkpoint.link);
    insert_checkpoint_.bind(2, checkpoint.utc_us);
    insert_checkpoint_.bind(3, checkpoint.key);
    insert_checkpoint_.bind(4, checkpoint.signature);
    return run(insert_checkpoint_);
}

JournalResult<void> ChainWriter::put_event(std::int64_t number, std::int64_t at_us, std::string_view body) {
    const Tag tag = being_made_.take_event(number, at_us, body);
    insert_event_.bind(1, number);
    insert_event_.bind(2, at_us);
    insert_event_.bind(3, body);
    insert_event_.bind(4, tag);
    return run(insert_event_);
}

JournalResult<void> ChainWriter::put_block(std::int64_t first_number, std::int64_t channel, seal::BytesView columns) {
    const Tag tag = being_made_.take_block(first_number, channel, columns);
    insert_block_.bind(1, first_number);
    insert_block_.bind(2, channel);
    insert_block_.bind(3, columns);
    insert_block_.bind(4, tag);
    return run(insert_block_);
}

JournalResult<void> ChainWriter::put(const Row& row) {
    if (row.kind == Row::Kind::block) return put_block(row.number, row.detail, row.content);
    return put_event(row.number, row.detail, {reinterpret_cast<const char*>(row.content.data()), row.content.size()});
}

JournalResult<void> ChainWriter::end(std::int64_t last, std::int64_t unconfirmed) {
    ended_ = being_made_.finish(last, unconfirmed);
    insert_link_.bind(1, ended_.link);
    insert_link_.bind(2, ended_.last);
    insert_link_.bind(3, ended_.unconfirmed);
    insert_link_.bind(4, ended_.digest);
    return run(insert_link_);
}

} // namespace stillmark::journal
