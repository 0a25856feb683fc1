/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "run_plan.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

#include "designs.h"
#include "plan_notes.h"
#include "plan_rounds.h"
#include "text.h"

/* What a plan is drawn with, beside its own memory. */
struct drawing {
	struct random random;
	size_t *order;   /* treatments, brew by brew */
	size_t *scratch; /* of scratch_room() */
	size_t *block;   /* the round of each brew */
};

/* -- is there such a plan? --------------------------------------------------------- */

static bool has_control_character(struct slice name)
{
	for (size_t i = 0; i < name.len; i++)
		if (iscntrl((unsigned char)name.text[i]))
			return true;
	return false;
}

static enum status check_name(const struct run_plan_query *query, size_t i, struct error *error)
{
	struct slice name = query->treatments[i];

	if (slice_blank(name))
		return error_set(error, STATUS_INVALID, "treatment %zu has no name", i + 1);
	if (has_control_character(name))
		return error_set(error, STATUS_INVALID,
		                 "the name of treatment %zu holds a line end or another control character; expected "
		                 "one line of text",
		                 i + 1);
	if (utf8_valid_part(name) < name.len)
		return error_set(error, STATUS_INVALID, "the name of treatment %zu is not valid UTF-8", i + 1);
	for (size_t j = 0; j < i; j++)
		if (slice_equal_nocase(slice_trim(query->treatments[j]), slice_trim(name)))
			return error_set(error, STATUS_INVALID, "treatment \"%.*s\" stands twice; expected each once",
			                 SLICE_ARG(name));
	return STATUS_OK;
}

static enum status check_query(const struct run_plan_query *query, struct error *error)
{
	size_t t = query->treatment_count;

	if (t < 2)
		return error_set(error, STATUS_INVALID, "a comparison needs at least two treatments; %s given",
		                 t == 1 ? "one is" : "none is");
	if (query->brews < 1 || query->at_once < 1)
		return error_set(error, STATUS_INVALID,
		                 "at least one brew of each treatment is needed, and one at a time");
	if (t > PLAN_BREWS_MOST || query->brews > PLAN_BREWS_MOST / t)
		return error_set(
			error, STATUS_INVALID,
			"%zu treatments with %zu brews of each are more than %d brews, which is all that a plan "
			"has room for; expected fewer, or several runs",
			t, query->brews, PLAN_BREWS_MOST);
	for (size_t i = 0; i < t; i++) {
		enum status status = check_name(query, i, error);

		if (status != STATUS_OK)
			return status;
	}
	return STATUS_OK;
}

/* -- codes ------------------------------------------------------------------------- */

static bool is_code(unsigned code)
{
	unsigned a = code / 100, b = code / 10 % 10, c = code % 10;
	bool differ = a != b && b != c && a != c;
	bool runs = (b == a + 1 && c == b + 1) || (a == b + 1 && b == c + 1);
	const char *turnable = "01689";
	bool turns = strchr(turnable, (int)('0' + a)) && strchr(turnable, (int)('0' + b)) &&
	             strchr(turnable, (int)('0' + c));

	return differ && !runs && !turns;
}

unsigned plan_code(size_t i)
{
	for (unsigned code = 100; code < 1000; code++)
		if (is_code(code) && i-- == 0)
			return code;
	return 0;
}

static void draw_codes(struct run_plan *plan, struct random *random)
{
	size_t place[PLAN_CODES];

	for (size_t i = 0; i < PLAN_CODES; i++)
		place[i] = i;
	random_shuffle(random, place, PLAN_CODES);
	for (size_t i = 0; i < plan->brew_count; i++)
		snprintf(plan->brews[i].code, PLAN_CODE, "%u", plan_code(place[i]) % 1000);
}

/* -- rounds that hold all treatments ------------------------------------------------ */

enum { WILLIAMS_ROWS = 2 * DESIGNS_WILLIAMS_MOST };

struct williams {
	size_t rows[WILLIAMS_ROWS * DESIGNS_WILLIAMS_MOST];
	size_t label[DESIGNS_WILLIAMS_MOST];
	size_t order[WILLIAMS_ROWS];
};

static void draw_order(size_t *order, size_t first, size_t n, struct random *random)
{
	for (size_t i = 0; i < n; i++)
		order[i] = first + i;
	random_shuffle(random, order, n);
}

/*
 * Relabels a Williams design by lot. Each of its t successive rows are a Latin square by themselves; an odd one has two, which
 * stay whole, so that places are even after the first t rounds, not only after all 2t.
 */
static void williams_draw(struct williams *williams, size_t t, size_t rows, struct random *random)
{
	size_t first = rows > t ? t * (size_t)random_below(random, 2) : 0;

	design_williams(williams->rows, t, NULL);
	draw_order(williams->label, 0, t, random);
	draw_order(williams->order, first, t, random);
	if (rows > t)
		draw_order(williams->order + t, t - first, t, random);
}

static void draw_williams(size_t *order, size_t t, size_t rounds, struct random *random)
{
	size_t rows = design_williams_sequences(t);
	struct williams williams;

	for (size_t r = 0; r < rounds; r++) {
		const size_t *row;

		if (r % rows == 0)
			williams_draw(&williams, t, rows, random);
		row = williams.rows + williams.order[r % rows] * t;
		for (size_t p = 0; p < t; p++)
			order[r * t + p] = williams.label[row[p]];
	}
}

static void draw_complete(struct run_plan *plan, struct drawing *drawing)
{
	size_t t = plan->treatment_count;

	plan->design = plan->at_once == 1 ? PLAN_IN_TURN : PLAN_TOGETHER;
	for (size_t r = 0; r <= plan->rounds; r++)
		plan->start[r] = r * t;
	if (design_williams_sequences(t) > 0)
		draw_williams(drawing->order, t, plan->rounds, &drawing->random);
	else
		design_complete_blocks(drawing->order, t, plan->rounds, &drawing->random, drawing->scratch);
}

/* -- rounds that do not --------------------------------------------------------------- */

static void draw_balanced(struct run_plan *plan, const struct bib_design *bib, struct drawing *drawing)
{
	plan->design = PLAN_BALANCED;
	for (size_t r = 0; r <= plan->rounds; r++)
		plan->start[r] = r * bib->k;
	for (size_t done = 0; done < plan->rounds; done += bib->b)
		design_bib(drawing->order + done * bib->k, bib, &drawing->random, drawing->scratch);
}

/*
 * A random order of the treatments, over and over, cut into rounds of nearly one size: neighbours in it are different,
 * as far as a round reaches. Exchanges then even out who meets whom.
 */
static void draw_evened(struct run_plan *plan, struct drawing *drawing)
{
	struct rounds rounds = { drawing->order, plan->start, plan->rounds, plan->treatment_count };
	size_t t = plan->treatment_count, n = plan->brew_count;

	plan->design = PLAN_EVENED;
	for (size_t r = 0; r <= plan->rounds; r++)
		plan->start[r] = r * (n / plan->rounds) + (r < n % plan->rounds ? r : n % plan->rounds);
	draw_order(drawing->scratch, 0, t, &drawing->random);
	for (size_t i = 0; i < n; i++)
		drawing->order[i] = drawing->scratch[i % t];
	rounds_even_pairs(&rounds, &drawing->random, drawing->scratch);
	for (size_t r = 0; r < plan->rounds; r++)
		random_shuffle(&drawing->random, drawing->order + plan->start[r], plan->start[r + 1] - plan->start[r]);
}

static void draw_incomplete(struct run_plan *plan, struct drawing *drawing)
{
	struct rounds rounds = { drawing->order, plan->start, plan->rounds, plan->treatment_count };
	struct bib_design bib;

	if (design_bib_find(&bib, plan->treatment_count, plan->at_once))
		plan->balance.even_brews = bib.r;
	if (bib.r > 0 && plan->brews_each % bib.r == 0)
		draw_balanced(plan, &bib, drawing);
	else
		draw_evened(plan, drawing);
	rounds_even_positions(&rounds, &drawing->random, drawing->scratch);
}

/* -- how even it is --------------------------------------------------------------------- */

/* Groups of treatments that rounds link, one by one or by way of others. */
static size_t count_parts(const struct run_plan *plan, size_t *part)
{
	size_t t = plan->treatment_count, parts = 0;

	for (size_t i = 0; i < t; i++)
		part[i] = i;
	for (size_t a = 0; a < t; a++)
		for (size_t b = 0; b < t; b++) {
			size_t from = part[b], to = part[a];

			if (a == b || plan->pairs[a * t + b] == 0 || from == to)
				continue;
			for (size_t i = 0; i < t; i++)
				part[i] = part[i] == from ? to : part[i];
		}
	for (size_t i = 0; i < t; i++) {
		bool first = true;

		for (size_t j = 0; j < i; j++)
			first = first && part[j] != part[i];
		parts += first;
	}
	return parts;
}

static size_t longest_round(const struct run_plan *plan)
{
	size_t longest = 0;

	for (size_t r = 0; r < plan->rounds; r++) {
		size_t size = plan->start[r + 1] - plan->start[r];

		longest = size > longest ? size : longest;
	}
	return longest;
}

static void weigh_balance(struct run_plan *plan, struct drawing *drawing)
{
	struct plan_balance *balance = &plan->balance;
	size_t t = plan->treatment_count;

	for (size_t i = 0; i < plan->brew_count; i++)
		drawing->block[i] = plan->brews[i].round;
	balance->rounds = design_check_blocks(drawing->block, drawing->order, plan->brew_count, plan->rounds, t,
	                                      plan->pairs, drawing->scratch);
	balance->positions = design_check_positions(drawing->order, plan->start, plan->rounds, t, longest_round(plan),
	                                            drawing->scratch);
	balance->following = design_check_carry_over(drawing->order, plan->start, plan->rounds, t, drawing->scratch);
	balance->parts = count_parts(plan, drawing->scratch);
	for (size_t r = 0; r < plan->rounds; r++)
		balance->alone += plan->start[r + 1] - plan->start[r] == 1;
	if (plan->design == PLAN_EVENED && balance->rounds.balanced_incomplete)
		plan->design = PLAN_BALANCED; /* the exchanges got all the way */
}

/* -- all of it ----------------------------------------------------------------------------- */

static void fill_brews(struct run_plan *plan, const struct drawing *drawing)
{
	int digits = plan->brew_count < 10 ? 1 : plan->brew_count < 100 ? 2 : 3;

	for (size_t r = 0; r < plan->rounds; r++)
		for (size_t i = plan->start[r]; i < plan->start[r + 1]; i++) {
			struct planned_brew *brew = &plan->brews[i];

			brew->treatment = drawing->order[i];
			brew->round = r;
			brew->position = i - plan->start[r];
			snprintf(brew->label, PLAN_LABEL, "B%0*zu", digits, (i + 1) % 1000);
		}
}

static bool take_memory(struct run_plan *plan, struct drawing *drawing)
{
	size_t t = plan->treatment_count, n = plan->brew_count;
	/* what the functions of designs.h and block_checks.h ask for, whichever is most */
	size_t room = t * (t + plan->rounds) + 2 * t + n;
	struct arena *memory = &plan->memory;

	plan->treatments = arena_take(memory, t * sizeof(*plan->treatments));
	plan->brews = arena_take(memory, n * sizeof(*plan->brews));
	plan->start = arena_take(memory, (plan->rounds + 1) * sizeof(*plan->start));
	plan->pairs = arena_take(memory, t * t * sizeof(*plan->pairs));
	drawing->order = malloc((n + 1) * sizeof(*drawing->order));
	drawing->block = malloc((n + 1) * sizeof(*drawing->block));
	drawing->scratch = malloc((room + 1) * sizeof(*drawing->scratch));
	return plan->treatments && plan->brews && plan->start && plan->pairs && drawing->order && drawing->block &&
	       drawing->scratch;
}

static bool copy_names(struct run_plan *plan, const struct run_plan_query *query)
{
	for (size_t i = 0; i < plan->treatment_count; i++) {
		plan->treatments[i] = arena_copy(&plan->memory, slice_trim(query->treatments[i]));
		if (!plan->treatments[i].text)
			return false;
	}
	return true;
}

static struct run_plan *plan_new(const struct run_plan_query *query)
{
	struct run_plan *plan = calloc(1, sizeof(*plan));

	if (!plan)
		return NULL;
	plan->treatment_count = query->treatment_count;
	plan->brews_each = query->brews;
	plan->at_once = query->at_once;
	plan->control = query->control < query->treatment_count ? query->control : SIZE_MAX;
	plan->seed = query->seed;
	plan->brew_count = query->treatment_count * query->brews;
	if (query->at_once <= 1 || query->at_once >= query->treatment_count)
		plan->rounds = query->brews;
	else
		plan->rounds = (plan->brew_count + query->at_once - 1) / query->at_once;
	return plan;
}

static void draw_plan(struct run_plan *plan, struct drawing *drawing)
{
	random_seed(&drawing->random, plan->seed);
	if (plan->at_once == 1 || plan->at_once >= plan->treatment_count)
		draw_complete(plan, drawing);
	else
		draw_incomplete(plan, drawing);
	fill_brews(plan, drawing);
	draw_codes(plan, &drawing->random);
	weigh_balance(plan, drawing);
}

enum status run_plan_make(struct run_plan **out, const struct run_plan_query *query, struct error *error)
{
	struct drawing drawing = { .order = NULL };
	struct run_plan *plan = NULL;
	enum status status = check_query(query, error);
	bool filled;

	*out = NULL;
	if (status != STATUS_OK)
		return status;
	plan = plan_new(query);
	filled = plan && take_memory(plan, &drawing) && copy_names(plan, query);
	if (filled) {
		draw_plan(plan, &drawing);
		filled = plan_notes_write(plan);
	}
	free(drawing.order);
	free(drawing.block);
	free(drawing.scratch);
	if (!filled) {
		run_plan_free(plan);
		return error_set(error, STATUS_MEMORY, "no memory for the plan");
	}
	*out = plan;
	return STATUS_OK;
}

void run_plan_free(struct run_plan *plan)
{
	if (!plan)
		return;
	arena_release(&plan->memory);
	free(plan);
}
