/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "meter.h"

#include <math.h>

struct meter meter_standard(void)
{
	return (struct meter){
		.name = SLICE_OF("meter"),
		.unit = UNIT_TDS_PERCENT,
		.scale_factor = 0.85,
		.cal_temp_c = 20.0,
		.compensated = true,
		.step = NAN,
		.accuracy = NAN,
	};
}
