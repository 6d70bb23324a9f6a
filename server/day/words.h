#pragma once

#include "server/refusal/refusal.h"
#include "server/spectrum/contributions.h"
#include "server/spectrum/control.h"
#include "server/spectrum/relay_window.h"
#include "server/spectrum/verdict.h"

#include "fieldpeg/v1/assessment.pb.h"
#include "fieldpeg/v1/day.pb.h"
#include "fieldpeg/v1/query.pb.h"

#include <cstdint>
#include <string>

/// The radio model's answers as messages and as words for people.
namespace fieldpeg::day {

/// Rounded to 0.001, as replies carry MHz and dB.
double milli(double value);

v1::Verdict::Word word(spectrum::Verdict verdict);
v1::Range::Word word(spectrum::Range range);
v1::Control::Word word(spectrum::ControlWord word);
v1::Control::Thief thief(spectrum::ControlThief from);
v1::Interference::Word word(spectrum::Interference interference);
v1::Picture::Grade grade(spectrum::Picture picture);
v1::Contribution::Kind kind(spectrum::Contribution::Kind from);
v1::PowerWindow::Kind kind(spectrum::PowerLimit::Kind from);
v1::Refusal message(const Refusal& refusal);

/// "about 88 %", "nearly all", "next to nothing": of a flight.
std::string share_text(double share);
/// 25 mW, 1.2 W, 0.01 mW.
std::string power_text(double power_dbm);
/// "1 minute", "14 minutes": whole ones.
std::string minutes_text(std::int64_t ms);
/// What a transmitter can be set to: "25 mW, 200 mW", or "any power".
std::string powers_text(const v1::Transmitter& transmitter);
/// 5806 or 5362.5.
std::string mhz_text(double mhz);
/// "R3 (5732 MHz)", or "5790 MHz" for a channel called by its frequency.
std::string channel_text(const v1::Channel& channel);
/// "Ben's goggles", or "mast, rx" for one that belongs to a relay.
std::string receiver_text(const std::string& owner, const std::string& relay,
                          const std::string& receiver);
/// The same where its owner is named beside it: "goggles", or "mast, rx".
std::string receiver_text(const std::string& relay, const std::string& receiver);
/// "2 x Ann - Ben", "Ann + Ben - Cem", "Ann".
std::string makers_text(const v1::Contribution& contribution);
/// "clash", "too close".
std::string verdict_word(v1::Verdict::Word verdict);
/// What is left to somebody whom a change harms: "+1.2 dB instead of +4.0 (...)".
std::string left_text(const v1::Harm& harm);
/// What one's own flight would be like: "your own picture would be shaky (+1.2 dB; ...)".
std::string own_text(const v1::PilotResult& own);
/// "through its adjacent channel" and so on.
std::string through_text(v1::PowerWindow::Kind kind);

}  // namespace fieldpeg::day
