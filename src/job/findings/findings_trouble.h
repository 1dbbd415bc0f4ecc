/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "vehicle/kinds/kinds.h"

/* A finding for each trouble that the survey carries, with what to do. */
void cw_job_find_troubles(CwRecord *vehicle, CwRecord *survey);
