/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

/* The name by which the desktop knows the program: its desktop file, icon, settings and bus name. */
#define CW_APPLICATION_ID "io.github.cabinwright.Cabinwright"
