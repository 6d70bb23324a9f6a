#pragma once

#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/rejection_table.h"
#include "server/spectrum/scene.h"

#include <utility>

namespace fieldpeg::testing {

/// A scene and what everybody in it gets, which refers to it.
struct Assessed {
    explicit Assessed(spectrum::Scene of)
        : scene(std::move(of)),
          links(scene),
          tables(scene),
          receptions(spectrum::assess(scene, links, tables)) {}
    Assessed(const Assessed&) = delete;
    Assessed& operator=(const Assessed&) = delete;

    spectrum::Scene scene;
    spectrum::LinkTable links;
    spectrum::RejectionTables tables;
    spectrum::Receptions receptions;
};

}  // namespace fieldpeg::testing
