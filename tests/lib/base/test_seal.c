/* SPDX-License-Identifier: MIT */
#include "base/seal.h"

#include <sodium.h>
#include <string.h>

#include "testing.h"

static const char text[] = "{\"event\":\"fell-trial\",\"number\":3}";
enum { TEXT_LEN = sizeof text - 1 };

static const unsigned char one_seed[SEAL_SEED_LEN] = {1};
static const unsigned char other_seed[SEAL_SEED_LEN] = {2};

static void assert_hex(const unsigned char *bytes, size_t len, const char *expected) {
    char hex[2 * SEAL_SIGNATURE_LEN + 1];
    assert_string_equal(sodium_bin2hex(hex, sizeof hex, bytes, len), expected);
}

/* The second test of RFC 8032, 7.1: other programs check seals, too. */
BEHAVIOUR(a_seal_is_what_the_standards_say) {
    static const unsigned char seed[SEAL_SEED_LEN] = {
        0x4c, 0xcd, 0x08, 0x9b, 0x28, 0xff, 0x96, 0xda, 0x9d, 0xb6, 0xc3,
        0x46, 0xec, 0x11, 0x4e, 0x0f, 0x5b, 0x8a, 0x31, 0x9f, 0x35, 0xab,
        0xa6, 0x24, 0xda, 0x8c, 0xf6, 0xed, 0x4f, 0xb8, 0xa6, 0xfb};
    struct seal seal;
    seal_make(&seal, seed, "r", 1);
    assert_hex(seal.signer, sizeof seal.signer,
               "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c");
    assert_hex(seal.signature, sizeof seal.signature,
               "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
               "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00");
    assert_hex(seal.hash, sizeof seal.hash,
               "454349e422f05297191ead13e21d3db520e5abef52055e4964b82fb213f593a1");
}

BEHAVIOUR(the_same_seed_and_bytes_give_the_same_seal) {
    struct seal first;
    struct seal again;
    struct seal other;
    seal_make(&first, one_seed, text, TEXT_LEN);
    seal_make(&again, one_seed, text, TEXT_LEN);
    assert_memory_equal(&first, &again, sizeof first);
    seal_make(&other, other_seed, text, TEXT_LEN);
    assert_memory_equal(other.hash, first.hash, sizeof first.hash);
    assert_memory_not_equal(other.signer, first.signer, sizeof first.signer);
    assert_memory_not_equal(other.signature, first.signature, sizeof first.signature);
    seal_make(&other, one_seed, text, TEXT_LEN - 1);
    assert_memory_equal(other.signer, first.signer, sizeof first.signer);
    assert_memory_not_equal(other.hash, first.hash, sizeof first.hash);
    assert_memory_not_equal(other.signature, first.signature, sizeof first.signature);
}

BEHAVIOUR(a_seal_is_good_for_its_bytes_and_no_others) {
    struct seal seal;
    char changed[sizeof text];
    seal_make(&seal, one_seed, text, TEXT_LEN);
    assert_true(seal_is_good(&seal, text, TEXT_LEN));
    for (size_t i = 0; i < TEXT_LEN; i++) {
        memcpy(changed, text, sizeof text);
        changed[i] ^= 1;
        assert_false(seal_is_good(&seal, changed, TEXT_LEN));
    }
    assert_false(seal_is_good(&seal, text, TEXT_LEN - 1));
    assert_false(seal_is_good(&seal, text, sizeof text));
    assert_false(seal_is_good(&seal, text, 0));
}

BEHAVIOUR(a_seal_of_which_a_byte_was_changed_is_not_good) {
    struct seal seal;
    seal_make(&seal, one_seed, text, TEXT_LEN);
    unsigned char *const parts[] = {seal.hash, seal.signature, seal.signer};
    const size_t lengths[] = {sizeof seal.hash, sizeof seal.signature, sizeof seal.signer};
    for (size_t p = 0; p < COUNT_OF(parts); p++) {
        for (size_t i = 0; i < lengths[p]; i++) {
            parts[p][i] ^= 1;
            if (seal_is_good(&seal, text, TEXT_LEN))
                fail_msg("byte %zu of part %zu does not count", i, p);
            parts[p][i] ^= 1;
        }
    }
    assert_true(seal_is_good(&seal, text, TEXT_LEN));
}

/* Each half is looked at: the bytes of one seal with the signer and signature of another. */
BEHAVIOUR(parts_of_two_seals_are_no_seal) {
    struct seal one;
    struct seal two;
    seal_make(&one, one_seed, text, TEXT_LEN);
    seal_make(&two, other_seed, text, TEXT_LEN - 1);
    struct seal mixed = two;
    memcpy(mixed.hash, one.hash, sizeof mixed.hash);
    assert_false(seal_is_good(&mixed, text, TEXT_LEN));
    assert_false(seal_is_good(&mixed, text, TEXT_LEN - 1));
    mixed = one;
    memcpy(mixed.signer, two.signer, sizeof mixed.signer);
    assert_false(seal_is_good(&mixed, text, TEXT_LEN));
}

BEHAVIOUR(nothing_can_be_sealed) {
    struct seal seal;
    seal_make(&seal, one_seed, "", 0);
    assert_true(seal_is_good(&seal, "", 0));
    assert_false(seal_is_good(&seal, "x", 1));
}

static int set_up(void **state) {
    (void)state;
    return sodium_init() < 0 ? -1 : 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_seal_is_what_the_standards_say),
        cmocka_unit_test(the_same_seed_and_bytes_give_the_same_seal),
        cmocka_unit_test(a_seal_is_good_for_its_bytes_and_no_others),
        cmocka_unit_test(a_seal_of_which_a_byte_was_changed_is_not_good),
        cmocka_unit_test(parts_of_two_seals_are_no_seal),
        cmocka_unit_test(nothing_can_be_sealed),
    };
    return cmocka_run_group_tests_name("seal", tests, set_up, NULL);
}
