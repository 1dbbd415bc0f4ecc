/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/sheet/electrics.h"

#include "electrics/fuse.h"
#include "vehicle/json/json_write.h"
#include <glib/gi18n-lib.h>
#include <math.h>

static void put_channels(GString *json, const CwChannelLoad *load)
{
  g_string_append_printf(json, "{\"channels\":[%d", (int)load->channels[0]);
  if (load->n_channels == 2)
    g_string_append_printf(json, ",%d", (int)load->channels[1]);
  g_string_append_c(json, ']');
}

/* A provenance in words for scripts. */
static const char *provenance_word(CwProvenance provenance)
{
  static const char *const words[] = {
      [CW_PUBLISHED] = "published",
      [CW_DERIVED] = "derived",
      [CW_COMMON_PRACTICE] = "common-practice",
      [CW_FROM_MEMORY] = "from-memory",
  };
  return words[provenance];
}

/* The rating and where rating and fuse come from; nothing where there is none. */
static void put_sources(GString *json, const CwAmplifierSupply *amplifier)
{
  const CwCableChoice *cable = &amplifier->cable;
  cw_append_json_member(json, "rating_a", cable->rating_a);
  if (!isnan(cable->rating_a))
    cw_append_json_text_member(
        json, "rating_source",
        provenance_word(cw_cable_rating(cable->size_mm2, amplifier->material).provenance));
  if (!isnan(cable->fuse_a))
    cw_append_json_text_member(json, "fuse_source", provenance_word(cw_fuse_provenance(cable->fuse_a)));
}

static void put_amplifier(GString *json, const CwAmplifierSupply *amplifier, double running_v)
{
  g_string_append_c(json, '{');
  cw_append_json_text_member(json, "name", amplifier->name);
  cw_append_json_member(json, "current_a", amplifier->current_a);
  cw_append_json_member(json, "cable_mm2", amplifier->cable.size_mm2);
  cw_append_json_member(json, "drop_v", amplifier->cable.drop_v);
  cw_append_json_member(json, "drop_percent", 100 * amplifier->cable.drop_v / running_v);
  cw_append_json_member(json, "fuse_a", amplifier->cable.fuse_a);
  put_sources(json, amplifier);
  cw_append_json_key(json, "loads");
  g_string_append_c(json, '[');
  for (guint i = 0; i < amplifier->n_loads; i++) {
    const CwChannelLoad *load = &amplifier->loads[i];
    g_string_append(json, i ? "," : "");
    put_channels(json, load);
    cw_append_json_member(json, "ohm", load->load_ohm);
    cw_append_json_member(json, "least_ohm", load->least_ohm);
    cw_append_json_truth_member(json, "ok", load->ok);
    g_string_append_c(json, '}');
  }
  g_string_append_c(json, ']');
  cw_append_json_key(json, "targets");
  g_string_append_c(json, '[');
  for (guint i = 0; i < amplifier->n_loads; i++) {
    g_string_append(json, i ? "," : "");
    put_channels(json, &amplifier->loads[i]);
    cw_append_json_member(json, "volts", amplifier->loads[i].volts);
    g_string_append_c(json, '}');
  }
  g_string_append(json, "]}");
}

char *cw_electrics_to_json(const CwElectrics *electrics)
{
  GString *json = g_string_new("{\"amplifiers\":[");
  for (guint i = 0; i < electrics->n_amplifiers; i++) {
    g_string_append(json, i ? "," : "");
    put_amplifier(json, &electrics->amplifiers[i], electrics->running_v);
  }
  g_string_append_c(json, ']');
  cw_append_json_member(json, "total_a", electrics->total_a);
  if (isnan(electrics->alternator_a))
    cw_append_json_member(json, "alternator_ok", NAN);
  else
    cw_append_json_truth_member(json, "alternator_ok", cw_electrics_alternator_ok(electrics));
  g_string_append(json, "}\n");
  return g_string_free(json, FALSE);
}

static void add_line(GStrvBuilder *lines, const char *format, ...) G_GNUC_PRINTF(2, 3);

static void add_line(GStrvBuilder *lines, const char *format, ...)
{
  va_list arguments;
  va_start(arguments, format);
  g_autofree char *line = g_strdup_vprintf(format, arguments);
  va_end(arguments);
  g_strv_builder_add(lines, line);
}

static void work_load(GStrvBuilder *lines, const CwChannelLoad *load)
{
  g_autofree char *channels =
      load->n_channels == 2
          ? g_strdup_printf(_("Channels %d and %d, bridged"), (int)load->channels[0], (int)load->channels[1])
          : g_strdup_printf(_("Channel %d"), (int)load->channels[0]);
  g_autofree char *joined =
      load->n_speakers == 1
          ? g_strdup("")
          : g_strdup_printf(load->in_series ? _(" (%u speakers in series)") : _(" (%u speakers in parallel)"),
                            load->n_speakers);
  /* Translators: %s is the channel; then load, least load; voltage that does not change between loads. */
  add_line(lines, _("%s: load %.3g Ω%s, least %.3g Ω"), channels, load->load_ohm, joined, load->least_ohm);
  add_line(lines, _("    power %.4g W × %.3g Ω ÷ %.3g Ω = %.4g W; target √(%.4g W × %.3g Ω) = %.4g V"),
           load->rated_w, load->rated_ohm, load->load_ohm, load->power_w, load->power_w, load->load_ohm,
           load->volts);
}

char *cw_cable_rating_source(double size_mm2, CwMaterial material)
{
  CwCableRating rating = cw_cable_rating(size_mm2, material);
  g_autofree char *gauge = g_strdup_printf(rating.gauge > 0 ? "%d AWG" : "%d/0 AWG",
                                           rating.gauge > 0 ? rating.gauge : 1 - rating.gauge);
  /* Translators: %s is a gauge, as "4 AWG". */
  g_autofree char *law =
      g_strdup_printf(_("%s, insulation of %d °C: 33 CFR 183.425, Table 5, a law for boats in the USA"),
                      gauge, CW_RATING_INSULATION_CELSIUS);
  if (rating.provenance == CW_PUBLISHED)
    return g_steal_pointer(&law);
  /* Translators: %s is a law and its table. */
  return g_strdup_printf(material == CW_COPPER ? _("derived from %s, in proportion to the area")
                                               : _("derived from %s, for the metal's higher resistance"),
                         law);
}

static const char *say_fuse_source(double fuse_a)
{
  switch (cw_fuse_provenance(fuse_a)) {
  case CW_PUBLISHED:
    return _("blade fuse, published list");
  case CW_FROM_MEMORY:
    return _("blade fuse, from memory: not in every list");
  default:
    return _("bolted fuse: common practice, no source");
  }
}

static void work_cable(GStrvBuilder *lines, const CwAmplifierSupply *a, double running_v)
{
  const CwCableChoice *c = &a->cable;
  add_line(lines, _("Fuse: the smallest standard one not below %.4g A is %.4g A (%s)"), a->current_a,
           c->fuse_a, say_fuse_source(c->fuse_a));
  if (a->material == CW_COPPER_CLAD_ALUMINIUM)
    add_line(lines,
             _("Copper-clad aluminium: %.3g times the resistance of copper (common practice, no source)"),
             cw_material_factor(a->material));
  if (isnan(c->size_mm2))
    return;
  add_line(lines,
           _("Cable: from %.4g mm² on it loses at most %.2g V (common practice, no source), from %.4g mm² "
             "on it bears the fuse"),
           c->least_for_drop_mm2, CW_ELECTRICS_MOST_DROP_V, c->least_for_fuse_mm2);
  add_line(lines,
           _("Drop: 2 × %.3g m × %.3g Ω/km × %.4g A = %.3g V (%.2g %% of %.4g V); the cable bears %.4g A"),
           a->length_m, c->ohm_per_km, a->current_a, c->drop_v, 100 * c->drop_v / running_v, running_v,
           c->rating_a);
  g_autofree char *source = cw_cable_rating_source(c->size_mm2, a->material);
  add_line(lines, _("    %s; the codes for vehicles at your place come first"), source);
}

static void work_fitted(GStrvBuilder *lines, const CwAmplifierSupply *amplifier)
{
  if (!isnan(amplifier->fitted_mm2)) {
    g_autofree char *source = cw_cable_rating_source(amplifier->fitted_mm2, amplifier->material);
    add_line(lines, _("Fitted cable: %.3g mm² loses %.3g V and bears %.4g A (%s)"), amplifier->fitted_mm2,
             amplifier->fitted_drop_v, amplifier->fitted_rating_a, source);
  }
  if (!isnan(amplifier->fitted_fuse_a))
    add_line(lines, _("Fitted fuse: %.4g A"), amplifier->fitted_fuse_a);
}

char **cw_electrics_working(const CwElectrics *electrics, guint amplifier)
{
  g_return_val_if_fail(amplifier < electrics->n_amplifiers, NULL);
  const CwAmplifierSupply *a = &electrics->amplifiers[amplifier];
  g_autoptr(GStrvBuilder) lines = g_strv_builder_new();
  for (guint i = 0; i < a->n_loads; i++)
    work_load(lines, &a->loads[i]);
  add_line(lines, _("Current: %.4g W ÷ (%.3g × %.4g V) = %.4g A"), a->power_w, a->efficiency,
           electrics->running_v, a->current_a);
  if (isnan(a->cable.fuse_a))
    add_line(lines, _("Fuse: no standard fuse holds %.4g A; divide the system over several cables"),
             a->current_a);
  else
    work_cable(lines, a, electrics->running_v);
  if (isnan(a->cable.size_mm2))
    add_line(lines, _("Drop: no standard cable will do over %.3g m; shorten it or divide the system"),
             a->length_m);
  work_fitted(lines, a);
  return g_strv_builder_end(lines);
}
