#pragma once

#include "server/planner/problem.h"
#include "server/planner/tables.h"
#include "server/spectrum/link.h"
#include "server/spectrum/rejection_table.h"
#include "server/spectrum/standing.h"
#include "server/spectrum/viewer.h"

#include <cstddef>
#include <functional>
#include <memory>
#include <optional>
#include <vector>

/// What viewers ask, as goals of the search. Used by tables.cc.
namespace fieldpeg::planner {

/// One viewer with nobody else on the air, over what may be chosen for the own transmitters.
class Alone {
public:
    Alone(const Question& question, const spectrum::Viewer& viewer,
          const std::vector<std::vector<spectrum::Hertz>>& channels,
          const std::vector<spectrum::LinkTable>& by_band, spectrum::RejectionTables& rejection);

    /// Margins at the best choice, each by itself, and at the worst.
    struct Margins {
        spectrum::Decibel good, usable;
    };
    const Margins& best() const { return best_; }
    const Margins& least() const { return least_; }

private:
    void try_from(std::size_t i);
    void try_all(std::size_t i);

    const Question& question_;
    const spectrum::Viewer& viewer_;
    const std::vector<std::vector<spectrum::Hertz>>& channels_;
    const std::vector<spectrum::LinkTable>& by_band_;
    spectrum::RejectionTables& rejection_;
    std::vector<std::size_t> transmitters_;
    spectrum::Receptions receptions_;
    Margins best_{spectrum::Decibel{-1e9}, spectrum::Decibel{-1e9}};
    Margins least_{spectrum::Decibel{1e9}, spectrum::Decibel{1e9}};
};

/// Adds viewers' goals, ears and joints to a problem.
class Goals {
public:
    Goals(const Question& question, const std::vector<spectrum::LinkTable>& by_band,
          Problem& problem)
        : question_(question), by_band_(by_band), problem_(problem) {}

    using IsEverywhere = std::function<bool(std::size_t transmitter)>;

    /// What a viewer must reach for a share of the flight in a geometry. `is_everywhere`: whether a
    /// transmitter is on in every group.
    void add(const spectrum::Viewer& viewer, double share, spectrum::Geometry geometry,
             std::optional<double> held_db, const IsEverywhere& is_everywhere);

private:
    struct Part;

    std::vector<std::size_t> instances(std::size_t transmitter) const;
    void add_goal(std::size_t station, const std::vector<Part>& parts, double share,
                  spectrum::Geometry geometry, std::optional<double> held_db);
    std::size_t add_ear(std::size_t station, const Part& part, double share,
                        spectrum::Geometry geometry);
    void add_joint(const spectrum::Viewer& viewer, double share, spectrum::Geometry geometry,
                   std::size_t first_goal);

    const Question& question_;
    const std::vector<spectrum::LinkTable>& by_band_;
    Problem& problem_;
};

}  // namespace fieldpeg::planner
