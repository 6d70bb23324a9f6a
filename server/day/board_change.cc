#include "server/day/board_change.h"

#include <algorithm>
#include <cstddef>
#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::day {
namespace {

using RowsByName = std::map<std::string_view, const v1::BoardRow*>;

RowsByName by_name(const v1::BoardReply& board) {
    RowsByName rows;
    for (const auto& row : board.rows()) rows.emplace(row.transmitter(), &row);
    return rows;
}

bool is_told_by_name(const RowsByName& rows, const v1::BoardReply& board) {
    return rows.size() == static_cast<std::size_t>(board.rows_size());
}

}  // namespace

v1::Change since(const v1::BoardReply& before, const v1::Change& change) {
    const auto& after = change.board();
    const auto had = by_name(before), has = by_name(after);
    if (!is_told_by_name(had, before) || !is_told_by_name(has, after)) return change;
    auto told = change;
    told.set_since(before.version());
    auto& rows = *told.mutable_board()->mutable_rows();
    rows.Clear();
    std::vector<std::string_view> order;  // in which whoever takes this finds them
    for (const auto& row : before.rows()) {
        if (has.contains(row.transmitter()))
            order.push_back(row.transmitter());
        else
            told.add_gone(row.transmitter());
    }
    for (const auto& row : after.rows()) {
        const auto old = had.find(row.transmitter());
        if (old == had.end()) order.push_back(row.transmitter());
        if (old == had.end() || old->second->SerializeAsString() != row.SerializeAsString())
            *rows.Add() = row;
    }
    const auto is_at_its_place = [](std::string_view name, const v1::BoardRow& row) {
        return name == row.transmitter();
    };
    if (!std::ranges::equal(order, after.rows(), is_at_its_place))
        for (const auto& row : after.rows()) told.add_order(row.transmitter());
    return told;
}

}  // namespace fieldpeg::day
