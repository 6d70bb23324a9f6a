// Measurements turned into numbers, against worked values: free-space loss 20 log d + 20 log f -
// 27.55 (ITU-R P.525) and -174 dBm/Hz of thermal noise, both by hand beside each check.

#include "server/spectrum/measure.h"

#include "server/spectrum/blocking.h"
#include "server/spectrum/noise.h"

#include <gtest/gtest.h>

namespace fieldpeg::spectrum {
namespace {

TEST(Measure, TakesTheLossOfFreeSpaceFromWhatIsSent) {
    // 20 log 100 + 20 log 5800 - 27.55 = 40 + 75.27 - 27.55 = 87.72 dB
    EXPECT_NEAR(arriving({14_dBm, 2_dB, 100_m}, 5800_MHz).count(), 14 + 2 - 87.72, 0.02);
}

TEST(Measure, FindsTheNoiseFigureWhereThePictureBreaks) {
    // Noise in 18 MHz: -174 + 10 log 18e6 = -174 + 72.55 = -101.45 dBm (at 290 K -173.98 a hertz).
    // What arrives with 10 dB over a receiver of 7 dB: -101.43 + 7 + 10 = -84.43 dBm.
    EXPECT_NEAR(noise_figure_from_weakest(Dbm(-84.43), 10_dB, 18_MHz).count(), 7, 0.03);
}

TEST(Measure, FindsTheRejectionWhereLinesTear) {
    // The other arrives 30 dB stronger; 10 dB are needed: 40 dB are shut out.
    EXPECT_EQ(rejection_from_tearing(-60_dBm, -30_dBm, 10_dB), 40_dB);
}

TEST(Measure, FindsTheCompressionPointThatTakesTheMargin) {
    // 1 dB compression: a wanted signal beside a blocker at P1dB is weakened by 2.1 dB
    // (docs/model.md, section 6: twice as much as the blocker itself is).
    EXPECT_NEAR(p1db_from_overload(-30_dBm, desensitisation(-30_dBm, -30_dBm)).count(), -30, 1e-6);
    for (const double margin_db : {1.0, 3.0, 10.0, 25.0}) {
        const auto p1db = p1db_from_overload(-20_dBm, Decibel(margin_db));
        EXPECT_NEAR(desensitisation(-20_dBm, p1db).count(), margin_db, 1e-6) << margin_db;
    }
}

TEST(Measure, FindsALowerCompressionPointTheWeakerTheOtherIsThatTakesThePicture) {
    EXPECT_LT(p1db_from_overload(-40_dBm, 10_dB), p1db_from_overload(-20_dBm, 10_dB));
}

}  // namespace
}  // namespace fieldpeg::spectrum
