#pragma once

#include "client/show/markup.h"
#include "client/show/report.h"

/// The report's first page, the one that is sent. Used by report.cc.
namespace fieldpeg::show {

/// Who flew, how many at once at most, what went wrong, what was found out: into `main`.
void add_front(const ReportSource& source, pugi::xml_node main);

}  // namespace fieldpeg::show
