/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * drawing.h: the drawing libraries, loaded when the first figure is drawn. With what they need they are forty shared
 * objects, whose loading takes longer than a whole report without figures does.
 */
#ifndef BREWSPREAD_DRAWING_H
#define BREWSPREAD_DRAWING_H

#include <cairo-pdf.h>
#include <pango/pangocairo.h>
#include <stdbool.h>

/* Every function of theirs that is called. */
#define DRAWING_CALLS(CALL)                            \
	CALL(cairo_arc)                                \
	CALL(cairo_close_path)                         \
	CALL(cairo_create)                             \
	CALL(cairo_destroy)                            \
	CALL(cairo_fill_preserve)                      \
	CALL(cairo_font_options_create)                \
	CALL(cairo_font_options_destroy)               \
	CALL(cairo_font_options_set_antialias)         \
	CALL(cairo_font_options_set_hint_metrics)      \
	CALL(cairo_font_options_set_hint_style)        \
	CALL(cairo_image_surface_create)               \
	CALL(cairo_image_surface_get_data)             \
	CALL(cairo_image_surface_get_height)           \
	CALL(cairo_image_surface_get_stride)           \
	CALL(cairo_image_surface_get_width)            \
	CALL(cairo_line_to)                            \
	CALL(cairo_move_to)                            \
	CALL(cairo_new_path)                           \
	CALL(cairo_paint)                              \
	CALL(cairo_pdf_surface_create_for_stream)      \
	CALL(cairo_pdf_surface_set_metadata)           \
	CALL(cairo_rectangle)                          \
	CALL(cairo_rel_line_to)                        \
	CALL(cairo_restore)                            \
	CALL(cairo_rotate)                             \
	CALL(cairo_save)                               \
	CALL(cairo_scale)                              \
	CALL(cairo_set_dash)                           \
	CALL(cairo_set_line_width)                     \
	CALL(cairo_set_source_rgb)                     \
	CALL(cairo_stroke_preserve)                    \
	CALL(cairo_surface_destroy)                    \
	CALL(cairo_surface_finish)                     \
	CALL(cairo_surface_flush)                      \
	CALL(cairo_surface_status)                     \
	CALL(cairo_translate)                          \
	CALL(pango_cairo_context_set_font_options)     \
	CALL(pango_cairo_font_map_get_default)         \
	CALL(pango_cairo_show_layout_line)             \
	CALL(pango_context_set_language)               \
	CALL(pango_context_set_round_glyph_positions)  \
	CALL(pango_font_description_free)              \
	CALL(pango_font_description_from_string)       \
	CALL(pango_font_description_set_absolute_size) \
	CALL(pango_font_description_set_weight)        \
	CALL(pango_font_map_create_context)            \
	CALL(pango_language_from_string)               \
	CALL(pango_layout_get_iter)                    \
	CALL(pango_layout_get_line_count)              \
	CALL(pango_layout_get_line_readonly)           \
	CALL(pango_layout_get_log_attrs_readonly)      \
	CALL(pango_layout_get_size)                    \
	CALL(pango_layout_get_text)                    \
	CALL(pango_layout_get_unknown_glyphs_count)    \
	CALL(pango_layout_iter_free)                   \
	CALL(pango_layout_iter_get_baseline)           \
	CALL(pango_layout_iter_get_line_readonly)      \
	CALL(pango_layout_iter_next_line)              \
	CALL(pango_layout_line_get_extents)            \
	CALL(pango_layout_new)                         \
	CALL(pango_layout_set_font_description)        \
	CALL(pango_layout_set_text)                    \
	CALL(pango_layout_set_width)                   \
	CALL(pango_layout_set_wrap)                    \
	CALL(g_object_unref)                           \
	CALL(g_utf8_offset_to_pointer)

#define DRAWING_CALL(name) __typeof__(name) *name;

struct drawing {
	DRAWING_CALLS(DRAWING_CALL)
};

/* To call them by, once drawing_load() said true. Names that may be macros in their headers go in brackets. */
extern struct drawing drawing;

/*
 * Loads them; does nothing where they are loaded. False where they are not installed: *reason, unless NULL, is then
 * a text of the loader's that holds until the next call.
 */
bool drawing_load(const char **reason);

#endif
