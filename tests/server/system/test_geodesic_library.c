/* SPDX-License-Identifier: MIT */
/* The first rows of the test set of GeographicLib's geodesic routines (C. F. F. Karney, geodtest.c;
 * a selection of GeodTest.dat, doi:10.5281/zenodo.32156): WGS 84, distances good to a nanometre. */
#include "system/geodesic_library.h"

#include <math.h>

#include "base/textbuf.h"
#include "testing.h"

static const struct {
    double lat1, lon1, azimuth1, lat2, lon2, azimuth2, distance;
} published[] = {
    {35.60777, -139.44815, 111.098748429560326, -11.17491, -69.95921, 129.289270889708762,
     8935244.5604818305},
    {55.52454, 106.05087, 22.020059880982801, 77.03196, 197.18234, 109.112041110671519,
     4105086.1713924406},
    {-21.97856, 142.59065, -32.44456876433189, 41.84138, 98.56635, -41.84359951440466,
     8394328.894657671},
    {-66.99028, 112.2363, 173.73491240878403, -12.70631, 285.90344, 2.512956620913668,
     11150344.2312080241},
};

BEHAVIOUR(distances_and_azimuths_are_the_published_ones) {
    struct textbuf why = {0};
    const struct geodesic_library *geodesic = geodesic_library(&why);
    struct geod_geodesic earth;
    assert_non_null(geodesic);
    geodesic->geod_init(&earth, 6378137, 1 / 298.257223563);
    for (size_t i = 0; i < COUNT_OF(published); i++) {
        double distance = 0;
        double from = 0;
        double to = 0;
        geodesic->geod_inverse(&earth, published[i].lat1, published[i].lon1, published[i].lat2,
                               published[i].lon2, &distance, &from, &to);
        assert_true(fabs(distance - published[i].distance) < 1e-6);
        assert_true(fabs(from - published[i].azimuth1) < 1e-12 * 1000);
        assert_true(fabs(to - published[i].azimuth2) < 1e-12 * 1000);
    }
}

BEHAVIOUR(a_line_between_two_places_ends_at_the_second) {
    struct textbuf why = {0};
    const struct geodesic_library *geodesic = geodesic_library(&why);
    struct geod_geodesic earth;
    assert_non_null(geodesic);
    geodesic->geod_init(&earth, 6378137, 1 / 298.257223563);
    for (size_t i = 0; i < COUNT_OF(published); i++) {
        struct geod_geodesicline line;
        double lat = 0;
        double lon = 0;
        geodesic->geod_inverseline(&line, &earth, published[i].lat1, published[i].lon1,
                                   published[i].lat2, published[i].lon2, 0);
        assert_true(fabs(line.s13 - published[i].distance) < 1e-6);
        geodesic->geod_position(&line, line.s13, &lat, &lon, NULL);
        assert_true(fabs(lat - published[i].lat2) < 1e-9);
        assert_true(fabs(remainder(lon - published[i].lon2, 360)) < 1e-9);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(distances_and_azimuths_are_the_published_ones),
        cmocka_unit_test(a_line_between_two_places_ends_at_the_second),
    };
    RUN_BEHAVIOURS(tests);
}
