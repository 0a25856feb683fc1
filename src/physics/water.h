/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * water.h: density and refractive index of pure water, and the index of air.
 *
 * Temperatures in °C (ITS-90) unless the name says kelvin. Nothing is kept between calls; one index costs a few
 * divisions and one square root.
 */
#ifndef BREWSPREAD_WATER_H
#define BREWSPREAD_WATER_H

/* The sodium D line as refractometry has it: the mean of the doublet (ICUMSA, OIV: 589.3 nm). */
#define SODIUM_D_UM 0.5893

/*
 * Density of air-free water in kg/m3 at one atmosphere.
 *   tanaka: Tanaka, Girard, Davis, Peuto and Bignell, Metrologia 38 (2001) 301-309, Table 1; 0 … 40 °C
 *   kell:   Kell, Journal of Chemical and Engineering Data 20 (1975) 97-105; 0 … 150 °C
 * Both are carried on below 0 °C, for supercooled water, as they stand.
 */
double water_density_tanaka(double temp_c);
double water_density_kell(double temp_c);

/*
 * Tanaka up to 40 °C, Kell above. At 40 °C that is a step of 2e-7 in the index: do not differentiate across it.
 */
double water_density(double temp_c);

/*
 * Refractive index of water or steam against vacuum: IAPWS, Release on the Refractive Index of Ordinary Water
 * Substance, R9-97 (1997). Density 0 … 1060 kg/m3, -12 … 500 °C (in kelvin), wavelength 0.2 … 1.1 µm; NaN
 * outside.
 */
double water_index_absolute(double density_kg_m3, double temp_kelvin, double wavelength_um);

/*
 * Refractive index of dry air at one atmosphere and 450 ppm carbon dioxide: dispersion at 15 °C from Ciddor,
 * Applied Optics 35 (1996) 1566-1573, scaled to the temperature as an ideal gas. wavelength_um 0.3 … 1.7 µm.
 */
double air_index(double temp_c, double wavelength_um);

/*
 * Refractive index of water against air of the same temperature at 589.3 nm: what refractometers and the tables
 * of the sugar and food trades mean by nD. -12 … 100 °C, NaN outside; from 0 °C down it holds for supercooled
 * water, by extrapolation. Agrees with the water row of ISO 1743 within 4.1e-6 from 20 to 45 °C and 7.5e-6 at
 * 60 °C.
 */
double water_index(double temp_c);

#endif
