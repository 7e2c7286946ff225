// SPDX-License-Identifier: Apache-2.0
// Servo signals of records of any length: looked at part by part, means over all parts. What is held does not grow with
// the record; a sweep or swing that the border of two parts cuts is left out. Servo signals are slow: where there are
// far more samples than the low-pass lets through, so many in a row are taken as one, their mean.
#pragma once

#include <cstddef>
#include <optional>

#include "core/disc/servo/servo.hpp"
#include "core/signal/sample_stream.hpp"

namespace eyelevel::disc::servo {

// Of a part, after the mean: 1.9 s of a record at 20 MSa/s.
inline constexpr std::size_t part_most = std::size_t{1} << 20;

// As s_curve() and tracking_swing() of each part, of a stream that has given no block yet. A part in which the signal
// swings less than a quarter as far as in another does not count: noise at rest. Where no part holds what is sought,
// the first one says why.
Sought<SCurve> s_curve(signal::SampleStream& samples, std::optional<double> reference_v);
Sought<TrackingSwing> tracking_swing(signal::SampleStream& samples, std::optional<double> reference_v);

}  // namespace eyelevel::disc::servo
