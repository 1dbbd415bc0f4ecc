/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/state/settings.h"

#include "window/state/identity.h"

/* The schema beside a program that was built but not installed: build/src/cabinwright,
 * build/data/gschemas.compiled. */
static GSettingsSchema *find_schema_beside_program(GSettingsSchemaSource *parent)
{
  g_autofree char *program = g_file_read_link("/proc/self/exe", NULL);
  g_autofree char *folder = program ? g_path_get_dirname(program) : NULL;
  g_autofree char *data = folder ? g_build_filename(folder, "..", "data", NULL) : NULL;
  g_autoptr(GSettingsSchemaSource) source =
      data ? g_settings_schema_source_new_from_directory(data, parent, TRUE, NULL) : NULL;
  return source ? g_settings_schema_source_lookup(source, CW_APPLICATION_ID, FALSE) : NULL;
}

/* The settings, borrowed; NULL if there is no schema. */
GSettings *cw_settings_get(void)
{
  static gsize looked;
  static GSettings *settings;
  if (g_once_init_enter(&looked)) {
    GSettingsSchemaSource *source = g_settings_schema_source_get_default();
    g_autoptr(GSettingsSchema) schema =
        source ? g_settings_schema_source_lookup(source, CW_APPLICATION_ID, TRUE) : NULL;
    if (!schema)
      schema = find_schema_beside_program(source);
    if (schema)
      settings = g_settings_new_full(schema, NULL, NULL);
    g_once_init_leave(&looked, 1);
  }
  return settings;
}

int cw_settings_get_integer(const char *key, int otherwise)
{
  GSettings *settings = cw_settings_get();
  return settings ? g_settings_get_int(settings, key) : otherwise;
}

gboolean cw_settings_get_boolean(const char *key, gboolean otherwise)
{
  GSettings *settings = cw_settings_get();
  return settings ? g_settings_get_boolean(settings, key) : otherwise;
}

void cw_settings_set_integer(const char *key, int value)
{
  GSettings *settings = cw_settings_get();
  if (settings)
    g_settings_set_int(settings, key, value);
}

void cw_settings_set_boolean(const char *key, gboolean value)
{
  GSettings *settings = cw_settings_get();
  if (settings)
    g_settings_set_boolean(settings, key, value);
}
