/* SPDX-License-Identifier: GPL-3.0-or-later */
/* linear.h: small dense systems of linear equations, in the caller's space. */
#ifndef LINEAR_H
#define LINEAR_H

#include <stdbool.h>
#include <stddef.h>

/*
 * Solves a x = b for the n x n matrix a (row by row) by elimination with row exchanges. b becomes x, a is used up.
 * False where a is exactly singular; then both are left half done. O(n^3).
 */
bool linear_solve(double *a, double *b, size_t n);

/*
 * Inverts the symmetric positive definite n x n matrix a in place by its Cholesky factor; reads the lower
 * triangle, writes both. The logarithm of its determinant goes to *log_det unless that is NULL. False (a used
 * up) where a pivot is below 1e-12 of its diagonal element: singular, for all that doubles can tell. O(n^3).
 */
bool linear_invert_definite(double *a, size_t n, double *log_det);

#endif
