/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sample.h"
#include "vehicle/json/document.h"
#include "vehicle/json/json_scan.h"
#include "vehicle/json/json_write.h"
#include <locale.h>
#include <math.h>
#include <string.h>

static void test_round_trip(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_autoptr(GError) error = NULL;
  sample_add_take(vehicle, "take-1", 1, 1, 240);
  gsize length = 0;
  g_autofree char *json = cw_record_to_json(vehicle, &length);
  g_assert_cmpuint(length, ==, strlen(json));
  g_autoptr(CwRecord) again = cw_record_from_json(cw_vehicle_get_type(), json, -1, &error);
  g_assert_no_error(error);
  g_autofree char *json_again = cw_record_to_json(again, NULL);
  g_assert_cmpstr(json, ==, json_again);
  g_assert_true(cw_record_equal(vehicle, again));
  g_autofree char *indented = cw_record_to_indented_json(vehicle);
  g_assert_true(strchr(indented, '\n') != NULL);
  g_autoptr(CwRecord) third = cw_record_from_json(cw_vehicle_get_type(), indented, -1, &error);
  g_assert_no_error(error);
  g_assert_true(cw_record_equal(third, vehicle));
}

static void test_unknown_kept(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_autofree char *json = cw_record_to_json(vehicle, NULL);
  g_assert_nonnull(strstr(json, "\"season\":\"winter\""));
  g_assert_nonnull(strstr(json, "\"grille\":{\"colour\":[1,2.50]}"));
  g_assert_nonnull(strstr(json, "\"colour\":\"red\""));
}

/* The same double back for any bits, whatever the locale says of full stops. */
static void test_numbers(void)
{
  GRand *random = g_rand_new_with_seed(147);
  const char *old = setlocale(LC_NUMERIC, NULL);
  g_autofree char *kept = g_strdup(old);
  if (!setlocale(LC_NUMERIC, "de_DE.UTF-8"))
    g_test_message("no locale with a decimal comma here");
  for (int i = 0; i < 20000; i++) {
    union {
      guint64 bits;
      double value;
    } any = {.bits = (guint64)g_rand_int(random) << 32 | g_rand_int(random)};
    double value = i % 2 ? any.value : g_rand_int_range(random, -100000, 100000) / 1000.0;
    if (!isfinite(value))
      continue;
    g_autoptr(GString) text = g_string_new(NULL);
    cw_append_number(text, value);
    g_assert_null(strchr(text->str, ','));
    CwScan *scan = cw_scan_new(text->str, -1);
    double back = cw_scan_number(scan);
    g_assert_true(cw_scan_finish(scan, NULL));
    g_assert_true(memcmp(&value, &back, sizeof value) == 0);
  }
  setlocale(LC_NUMERIC, kept);
  g_rand_free(random);
}

typedef struct {
  const char *json, *error;
} Refused;

/* RFC 8259's grammar, and what is refused beyond it. */
static const Refused bad_json[] = {
    {"", "line 1, column 1: the text ends in the middle"},
    {"{\"reference\":\"J\"", "line 1, column 17 (reference): the text ends in the middle"},
    {"{\"reference\":\"J\",}", "line 1, column 18 (reference): a key in quotes was expected here"},
    {"{\"reference\":\"J\",\n \"positions_per_seat\":01}",
     "line 2, column 23 (positions_per_seat): this is not written as JSON writes a number"},
    {"{\"supply\":{\"running_v\":.5}}", "line 1, column 24 (supply.running_v): a value was expected here"},
    {"{\"supply\":{\"running_v\":1.}}",
     "line 1, column 24 (supply.running_v): this is not written as JSON writes a number"},
    {"{\"supply\":{\"running_v\":+1}}", "line 1, column 24 (supply.running_v): a value was expected here"},
    {"{\"supply\":{\"running_v\":1e}}",
     "line 1, column 24 (supply.running_v): this is not written as JSON writes a number"},
    {"{\"supply\":{\"running_v\":-}}",
     "line 1, column 24 (supply.running_v): this is not written as JSON writes a number"},
    {"{\"supply\":{\"running_v\":12x0}}",
     "line 1, column 26 (supply.running_v): a comma or } was expected here"},
    {"{\"supply\":{\"running_v\":1e400}}", "line 1, column 24 (supply.running_v): this number is too large"},
    {"{\"supply\":{\"running_v\":NaN}}", "line 1, column 24 (supply.running_v): a value was expected here"},
    {"{\"supply\":{\"running_v\":Infinity}}",
     "line 1, column 24 (supply.running_v): a value was expected here"},
    {"{\"positions_per_seat\":9223372036854775808}",
     "line 1, column 23 (positions_per_seat): this whole number is too large"},
    {"{\"positions_per_seat\":12345678901234567890123}",
     "line 1, column 23 (positions_per_seat): this whole number is too large"},
    {"{\"reference\":\"a\",\"reference\":\"b\"}", "reference: this key is there twice"},
    {"{\"x\":1,\"x\":2}", "x: this key is there twice"},
    {"{\"x\":{\"y\":1,\"y\":2}}", "x.y: this key is there twice"},
    {"{\"reference\":\"a\\u0000b\"}", "line 1, column 16 (reference): \\u0000 is not taken"},
    {"{\"reference\":\"\\ud800\"}", "line 1, column 15 (reference): half a surrogate pair"},
    {"{\"reference\":\"\\udc00\"}", "line 1, column 15 (reference): half a surrogate pair"},
    {"{\"reference\":\"\\ud800\\u0041\"}", "line 1, column 15 (reference): half a surrogate pair"},
    {"{\"reference\":\"\\x41\"}", "line 1, column 15 (reference): no such escape"},
    {"{\"reference\":\"\\u12g4\"}",
     "line 1, column 19 (reference): four hexadecimal digits were expected after \\u"},
    {"{\"reference\":\"a\nb\"}", "line 1, column 16 (reference): a control character must be escaped"},
    {"{\"reference\":'a'}", "line 1, column 14 (reference): a value was expected here"},
    {"{reference:\"a\"}", "line 1, column 2: a key in quotes was expected here"},
    {"{\"reference\" \"a\"}", "line 1, column 14 (reference): a colon was expected here"},
    {"/* note */ {}", "line 1, column 1: a value was expected here"},
    {"{\"reference\":\"a\",\"speakers\":[]} // note",
     "line 1, column 33: something follows the end of the value"},
    {"{\"x\":tru}", "line 1, column 6 (x): a value was expected here"},
    {"{\"x\":[1 2]}", "line 1, column 9 (x[0]): a comma or ] was expected here"},
    {"{\"x\":[1,]}", "line 1, column 9 (x[1]): a value was expected here"},
    {"{\"reference\":\"\xff\"}", "line 1, column 15: this is not UTF-8"},
    {"[]", "an object was expected, not a list"},
};

/* JSON, but no vehicle. */
static const Refused bad_vehicles[] = {
    {"{}", "reference: is missing"},
    {"{\"reference\":\"J\"}", "speakers: is missing"},
    {"{\"reference\":\"\",\"speakers\":[]}", "reference: must not be empty"},
    {"{\"reference\":7,\"speakers\":[]}", "reference: a text was expected, not a number"},
    {"{\"reference\":null,\"speakers\":[]}", "reference: null is not taken here"},
    {"{\"reference\":\"J\",\"speakers\":{}}", "speakers: a list was expected, not an object"},
    {"{\"reference\":\"J\",\"speakers\":[{}]}", "speakers[0].output: is missing"},
    {"{\"reference\":\"J\",\"speakers\":[{\"output\":1},{\"output\":2},{\"output\":3,\"lowest_hz\":4}]}",
     "speakers[2].lowest_hz: 4 is below 10"},
    {"{\"reference\":\"J\",\"speakers\":[{\"output\":1,\"lowest_hz\":20000.5}]}",
     "speakers[0].lowest_hz: 20000.5 is above 20000"},
    {"{\"reference\":\"J\",\"speakers\":[{\"output\":1.5}]}",
     "speakers[0].output: 1.5 is not a whole number"},
    {"{\"reference\":\"J\",\"speakers\":[{\"output\":0}]}", "speakers[0].output: 0 is below 1"},
    {"{\"reference\":\"J\",\"speakers\":[{\"output\":1,\"way\":\"hgh\"}]}",
     "speakers[0].way: \"hgh\" is none of high, mid, low, full, sub"},
    {"{\"reference\":\"J\",\"speakers\":[{\"output\":1,\"distance_cm\":{\"driver\":-2}}]}",
     "speakers[0].distance_cm.driver: -2 is below 1"},
    {"{\"reference\":\"J\",\"speakers\":[{\"output\":1},{\"output\":2},{\"output\":5},{\"output\":2}]}",
     "speakers[3].output: 2 is already used by speakers[1]"},
    {"{\"reference\":\"J\",\"speakers\":[],\"target\":[[20,1],[20,2]]}",
     "target[1][0]: 20 does not rise above 20 before it"},
    {"{\"reference\":\"J\",\"speakers\":[],\"target\":[[0,1]]}", "target[0][0]: a frequency must be above 0"},
    {"{\"reference\":\"J\",\"speakers\":[],\"target\":[[20]]}", "target[0]: 2 numbers were expected, not 1"},
    {"{\"reference\":\"J\",\"speakers\":[],\"target\":[[20,1,3]]}", "target[0][2]: more than 2 numbers"},
    {"{\"reference\":\"J\",\"speakers\":[],\"target\":[[20,null]]}",
     "target[0][1]: a number was expected, not null"},
    {"{\"reference\":\"J\",\"speakers\":[],\"processor\":{\"q\":[10,0.4]}}",
     "processor.q[1]: each must be above the one before"},
    {"{\"reference\":\"J\",\"speakers\":[],\"processor\":{\"q\":[1]}}",
     "processor.q: 2 numbers were expected, not 1"},
    {"{\"reference\":\"J\",\"speakers\":[],\"seats\":[]}", "seats: at least one seat is needed"},
    {"{\"reference\":\"J\",\"speakers\":[],\"seats\":[\"a\",\"a\"]}",
     "seats[1]: a is already used by seats[0]"},
    {"{\"reference\":\"J\",\"speakers\":[{\"output\":1}],\"amplifiers\":[{\"name\":\"A\",\"channels\":[{"
     "\"channel\":1,\"outputs\":[1,9]}]}]}",
     "amplifiers[0].channels[0].outputs[1]: no speaker is on output 9"},
    {"{\"reference\":\"J\",\"speakers\":[],\"amplifiers\":[{\"name\":\"A\",\"channels\":[{\"channel\":1,"
     "\"outputs\":[1.5]}]}]}",
     "amplifiers[0].channels[0].outputs[0]: 1.5 is not a whole number"},
    {"{\"reference\":\"J\",\"speakers\":[],\"amplifiers\":[{\"name\":\"A\",\"channels\":[{\"channel\":1,"
     "\"bridged_with\":1}]}]}",
     "amplifiers[0].channels[0].bridged_with: 1 is the channel itself"},
    {"{\"reference\":\"J\",\"speakers\":[],\"amplifiers\":[{\"name\":\"A\"},{\"name\":\"A\"}]}",
     "amplifiers[1].name: A is already used by amplifiers[0]"},
};

static void check_refused(const Refused *cases, guint n_cases)
{
  for (guint i = 0; i < n_cases; i++) {
    g_autoptr(GError) error = NULL;
    g_autofree char *shown = g_strescape(cases[i].json, NULL);
    g_test_message("%s", shown);
    g_assert_null(cw_record_from_json(cw_vehicle_get_type(), cases[i].json, -1, &error));
    g_assert_nonnull(error);
    g_assert_cmpstr(error->message, ==, cases[i].error);
  }
}

static void test_bad_json(void)
{
  check_refused(bad_json, G_N_ELEMENTS(bad_json));
}

static void test_bad_vehicles(void)
{
  check_refused(bad_vehicles, G_N_ELEMENTS(bad_vehicles));
}

static void test_nul_byte(void)
{
  g_autoptr(GError) error = NULL;
  static const char json[] = "{\"reference\":\"a\0b\"}";
  g_assert_null(cw_record_from_json(cw_vehicle_get_type(), json, sizeof json - 1, &error));
  g_assert_cmpstr(error->message, ==, "line 1, column 16: a NUL byte is not allowed here");
}

/* A hundred thousand brackets overflow a reader that recurses without a limit. */
static void test_depth(void)
{
  for (int k = 0; k < 2; k++) {
    g_autoptr(GError) error = NULL;
    g_autoptr(GString) json = g_string_new("{\"x\":");
    for (int i = 0; i < 100000; i++)
      g_string_append(json, k ? "{\"a\":" : "[");
    g_assert_null(cw_record_from_json(cw_vehicle_get_type(), json->str, (gssize)json->len, &error));
    g_assert_nonnull(strstr(error->message, "more than 64 levels deep"));
    g_assert_cmpuint(strlen(error->message), <, 400);
  }
}

static void test_size(void)
{
  g_autoptr(GError) error = NULL;
  gsize bytes = (gsize)CW_SCAN_MOST_BYTES + 1;
  g_autofree char *json = g_malloc(bytes + 1);
  memset(json, ' ', bytes);
  json[bytes] = 0;
  g_assert_null(cw_record_from_json(cw_vehicle_get_type(), json, (gssize)bytes, &error));
  g_assert_cmpstr(error->message, ==, "67108865 bytes are more than the 67108864 taken");
}

/* Cut anywhere, a document is refused and nothing is read beyond the cut. */
static void test_cut(void)
{
  gsize length = strlen(sample_intake);
  for (gsize n = 0; n < length; n++) {
    g_autoptr(GError) error = NULL;
    g_autofree char *cut = g_memdup2(sample_intake, MAX(n, 1));
    g_assert_null(cw_record_from_json(cw_vehicle_get_type(), cut, (gssize)n, &error));
    g_assert_nonnull(error);
  }
}

static void test_text(void)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  cw_vehicle_set_description(vehicle, "\"quotes\" \\ \n\t\x01 \xf0\x9f\x94\x8a");
  g_autofree char *json = cw_record_to_json(vehicle, NULL);
  g_autoptr(CwRecord) again = cw_record_from_json(cw_vehicle_get_type(), json, -1, &error);
  g_assert_no_error(error);
  g_assert_cmpstr(cw_vehicle_get_description(again), ==, cw_vehicle_get_description(vehicle));
  /* RFC 8259, section 7: U+1D11E written as a pair */
  g_autoptr(CwRecord) pair =
      cw_record_from_json(cw_mix_get_type(), "{\"\\ud834\\udd1e\":\"\\/\\b\\f\\u00e9\"}", -1, &error);
  g_assert_no_error(error);
  g_autofree char *written = cw_record_to_json(pair, NULL);
  g_assert_cmpstr(written, ==, "{\"left\":0,\"right\":0,\"\xf0\x9d\x84\x9e\":\"/\\u0008\\u000c\xc3\xa9\"}");
}

static void test_byte_order_mark(void)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) mix = cw_record_from_json(cw_mix_get_type(), "\xef\xbb\xbf{\"left\":1}", -1, &error);
  g_assert_no_error(error);
  g_assert_cmpfloat(cw_mix_get_left(mix), ==, 1);
}

/* A document that is refused changes nothing, wherever its fault is. */
static void test_apply_all_or_nothing(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_autofree char *before = cw_record_to_json(vehicle, NULL);
  g_autoptr(GError) error = NULL;
  g_assert_false(cw_record_apply(
      vehicle, "{\"reference\":\"new\",\"speakers\":[{\"output\":1,\"fs_hz\":70},{\"output\":1}]}", -1,
      &error));
  g_assert_error(error, CW_RECORD_ERROR, CW_RECORD_ERROR_REFERENCE);
  g_autofree char *after = cw_record_to_json(vehicle, NULL);
  g_assert_cmpstr(before, ==, after);
  g_clear_error(&error);
  g_assert_true(cw_record_apply(vehicle, "{\"reference\":\"new\",\"speakers\":[{\"output\":1,\"fs_hz\":70}]}",
                                -1, &error));
  g_assert_no_error(error);
  g_assert_cmpstr(cw_vehicle_get_reference(vehicle), ==, "new");
  g_assert_cmpuint(cw_list_get_length(cw_vehicle_get_amplifiers(vehicle)), ==, 0);
}

static void test_findings(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  CwRecord *finding =
      cw_vehicle_add_finding(vehicle, "speaker-inverted", CW_SEVERITY_STOP, CW_STAGE_MEASURING);
  cw_about_set_output(cw_finding_get_about(finding), 3);
  cw_finding_set_text(finding, "Inverted");
  g_autofree char *json = cw_record_to_json(finding, NULL);
  g_assert_cmpstr(
      json, ==,
      "{\"code\":\"speaker-inverted\",\"severity\":\"stop\",\"stage\":\"measuring\",\"about\":{\"output\":3},"
      "\"text\":\"Inverted\",\"evidence\":\"\",\"advice\":\"\"}");
  cw_vehicle_add_finding(vehicle, "fuse-too-large", CW_SEVERITY_ATTEND, CW_STAGE_SUPPLY);
  cw_vehicle_clear_findings(vehicle, CW_STAGE_MEASURING);
  CwList *findings = cw_vehicle_get_findings(vehicle);
  g_assert_cmpuint(cw_list_get_length(findings), ==, 1);
  g_autofree char *rest = cw_record_to_json(cw_list_get(findings, 0), NULL);
  g_assert_nonnull(strstr(rest, "\"about\":{}"));
}

static void test_compact(void)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *compact = cw_json_compact(" { \"a\" : [ 1 , 2.0 ] } ", -1, &error);
  g_assert_no_error(error);
  g_assert_cmpstr(compact, ==, "{\"a\":[1,2.0]}");
  g_assert_null(cw_json_compact("{\"a\":", -1, &error));
  g_assert_nonnull(error);
}

static char *name_of(CwRecord *vehicle, guint amplifier)
{
  return g_strdup(cw_amplifier_get_name(cw_list_get(cw_vehicle_get_amplifiers(vehicle), amplifier)));
}

/* Of an intake sheet every key but the reference and the speakers may be missing: amplifiers and channels get
 * what is free. */
static void test_nameless(void)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = cw_record_from_json(
      cw_vehicle_get_type(),
      "{\"reference\":\"J\",\"speakers\":[{\"output\":1}],\"amplifiers\":[{},{\"name\":\"Amplifier\"},"
      "{\"channels\":[{},{\"channel\":1},{\"channel\":3,\"outputs\":[1]},{}]}]}",
      -1, &error);
  g_assert_no_error(error);
  g_autofree char *first = name_of(vehicle, 0), *second = name_of(vehicle, 1), *third = name_of(vehicle, 2);
  g_assert_cmpstr(first, ==, "Amplifier 2");
  g_assert_cmpstr(second, ==, "Amplifier");
  g_assert_cmpstr(third, ==, "Amplifier 3");
  CwList *channels = cw_amplifier_get_channels(cw_list_get(cw_vehicle_get_amplifiers(vehicle), 2));
  const gint64 expected[] = {2, 1, 3, 4};
  for (guint i = 0; i < 4; i++)
    g_assert_cmpint(cw_amplifier_channel_get_channel(cw_list_get(channels, i)), ==, expected[i]);
  g_autofree char *json = cw_record_to_json(vehicle, NULL);
  g_autoptr(CwRecord) again = cw_record_from_json(cw_vehicle_get_type(), json, -1, &error);
  g_assert_no_error(error);
  g_assert_true(cw_record_equal(vehicle, again));
}

/* What is written by hand reads back by the rules of RFC 8259, and is the text that a record would write. */
static void test_written_by_hand(void)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(GString) json = g_string_new("{");
  cw_append_json_member(json, "hz", 1.0 / 3);
  cw_append_json_member(json, "none", (double)NAN);
  cw_append_json_member(json, "endless", (double)INFINITY);
  cw_append_json_text_member(json, "a \"key\"\n", "é\\\t\x01");
  cw_append_json_truth_member(json, "yes", TRUE);
  cw_append_json_key(json, "inside");
  g_string_append_c(json, '{');
  cw_append_json_truth_member(json, "no", FALSE);
  g_string_append(json, "}}");
  g_assert_cmpstr(
      json->str, ==,
      "{\"hz\":0.3333333333333333,\"none\":null,\"endless\":null,\"a \\\"key\\\"\\n\":\"é\\\\\\t\\u0001\","
      "\"yes\":true,\"inside\":{\"no\":false}}");
  g_autofree char *compact = cw_json_compact(json->str, -1, &error);
  g_assert_no_error(error);
  g_assert_cmpstr(compact, ==, json->str);
}

/* A value by itself is the text that it has in the document. */
static void test_one_value(void)
{
  g_autoptr(CwRecord) vehicle = sample_vehicle();
  g_autofree char *document = cw_record_to_json(vehicle, NULL);
  guint n_fields;
  const CwField *fields = cw_record_get_fields(vehicle, &n_fields);
  for (guint i = 0; i < n_fields; i++) {
    g_autofree char *value = cw_record_value_to_json(vehicle, &fields[i]);
    g_autofree char *member = g_strdup_printf("\"%s\":%s", fields[i].key, value);
    if (!(fields[i].flags & CW_FIELD_SPARSE) ||
        cw_record_is_known_at(vehicle, cw_record_field_id(vehicle, &fields[i])))
      g_assert_nonnull(strstr(document, member));
  }
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/vehicle/document/round-trip", test_round_trip);
  g_test_add_func("/vehicle/document/unknown-kept", test_unknown_kept);
  g_test_add_func("/vehicle/document/numbers", test_numbers);
  g_test_add_func("/vehicle/document/bad-json", test_bad_json);
  g_test_add_func("/vehicle/document/bad-vehicles", test_bad_vehicles);
  g_test_add_func("/vehicle/document/nul-byte", test_nul_byte);
  g_test_add_func("/vehicle/document/depth", test_depth);
  g_test_add_func("/vehicle/document/size", test_size);
  g_test_add_func("/vehicle/document/cut", test_cut);
  g_test_add_func("/vehicle/document/text", test_text);
  g_test_add_func("/vehicle/document/byte-order-mark", test_byte_order_mark);
  g_test_add_func("/vehicle/document/apply-all-or-nothing", test_apply_all_or_nothing);
  g_test_add_func("/vehicle/document/findings", test_findings);
  g_test_add_func("/vehicle/document/compact", test_compact);
  g_test_add_func("/vehicle/document/nameless", test_nameless);
  g_test_add_func("/vehicle/document/written-by-hand", test_written_by_hand);
  g_test_add_func("/vehicle/document/one-value", test_one_value);
  return g_test_run();
}
