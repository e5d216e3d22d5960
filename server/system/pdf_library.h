/* SPDX-License-Identifier: MIT */
/* pdf_library.h - the libraries that draw letters on paper: cairo and pango, loaded when a paper is
 * drawn, see shared_library.h. */
#ifndef CAIRN_PDF_LIBRARY_H
#define CAIRN_PDF_LIBRARY_H

#include <cairo-pdf.h>
#include <pango/pangocairo.h>

#include "system/shared_library.h"

#define PDF_FUNCTIONS(X)                                                                           \
    X(cairo_create)                                                                                \
    X(cairo_destroy)                                                                               \
    X(cairo_fill)                                                                                  \
    X(cairo_line_to)                                                                               \
    X(cairo_move_to)                                                                               \
    X(cairo_pdf_surface_create_for_stream)                                                         \
    X(cairo_pdf_surface_set_metadata)                                                              \
    X(cairo_rectangle)                                                                             \
    X(cairo_set_line_width)                                                                        \
    X(cairo_set_source_rgb)                                                                        \
    X(cairo_show_page)                                                                             \
    X(cairo_status)                                                                                \
    X(cairo_stroke)                                                                                \
    X(cairo_surface_destroy)                                                                       \
    X(cairo_surface_finish)                                                                        \
    X(cairo_surface_status)                                                                        \
    X(g_object_unref)                                                                              \
    X(pango_cairo_font_map_new)                                                                    \
    X(pango_cairo_show_layout)                                                                     \
    X(pango_cairo_show_layout_line)                                                                \
    X(pango_context_set_language)                                                                  \
    X(pango_context_set_round_glyph_positions)                                                     \
    X(pango_font_description_free)                                                                 \
    X(pango_font_description_new)                                                                  \
    X(pango_font_description_set_absolute_size)                                                    \
    X(pango_font_description_set_family)                                                           \
    X(pango_font_description_set_weight)                                                           \
    X(pango_font_map_create_context)                                                               \
    X(pango_language_from_string)                                                                  \
    X(pango_layout_get_baseline)                                                                   \
    X(pango_layout_get_line_count)                                                                 \
    X(pango_layout_get_line_readonly)                                                              \
    X(pango_layout_get_size)                                                                       \
    X(pango_layout_get_unknown_glyphs_count)                                                       \
    X(pango_layout_new)                                                                            \
    X(pango_layout_set_alignment)                                                                  \
    X(pango_layout_set_ellipsize)                                                                  \
    X(pango_layout_set_font_description)                                                           \
    X(pango_layout_set_height)                                                                     \
    X(pango_layout_set_text)                                                                       \
    X(pango_layout_set_width)                                                                      \
    X(pango_layout_set_wrap)

struct pdf_library {
    PDF_FUNCTIONS(LIBRARY_MEMBER)
};

/* The libraries; NULL where one is missing, with `why`. Any thread. */
const struct pdf_library *pdf_library(struct textbuf *why);

#endif
