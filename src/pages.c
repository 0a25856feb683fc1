/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * pages.c: the program that writes manual pages and completions when brewspread is built, from the same rows as its
 * help, so that they can't say anything else.
 *
 *   pages page FILE     the page in FILE, with what its lines @COMMANDS@, @SETTINGS@, @COLUMNS@, @PROFILES@ and @DATADIR@ stand
 *                       for
 *   pages bash|zsh|fish the completion for that shell
 */
#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "builtin_profiles.h"
#include "command.h"
#include "header.h"
#include "help.h"
#include "version.h"

/* -- manual pages ---------------------------------------------------------- */

enum { PAGE_WIDTH = 78 };

/* Text for mdoc as it stands, lines kept; backslashes and what could be taken for a macro escaped. */
static void put_literal(const char *text)
{
	bool begins = true;

	for (; *text; text++) {
		if (begins && (*text == '.' || *text == '\''))
			fputs("\\&", stdout);
		begins = *text == '\n';
		if (*text == '\\')
			fputs("\\e", stdout);
		else
			putchar(*text);
	}
	putchar('\n');
}

/* Text for mdoc to fill: a sentence begins a line, and long ones are broken at blanks. */
static void put_text(const char *text)
{
	size_t column = 0;

	while (*text) {
		size_t word = strcspn(text, " ");
		char copy[256];

		snprintf(copy, sizeof(copy), "%.*s", (int)word, text);
		if (column > 0 && (text[-2] == '.' || column + 1 + word > PAGE_WIDTH)) {
			putchar('\n');
			column = 0;
		}
		if (column == 0 && (*copy == '.' || *copy == '\''))
			fputs("\\&", stdout);
		column += (size_t)printf("%s%s", column > 0 ? " " : "", copy);
		text += word;
		text += strspn(text, " ");
	}
	putchar('\n');
}

static void put_page_option(const struct command_option *option)
{
	fputs(".It ", stdout);
	if (option->letter)
		printf("Fl %c , ", option->letter);
	printf("Fl Fl %s", option->name);
	if (option->argument)
		printf(" Ar %s", option->argument);
	putchar('\n');
	put_text(option->text);
}

static void put_page_settings(const struct command *command)
{
	size_t count;
	const struct option_def *defs = option_defs(&count);
	const char *before = "";

	puts(".Pp\nTakes these of the\n.Sx SETTINGS :");
	for (const struct command_option *option = help_settings_options(); option->name; option++, before = " ,\n")
		printf("%s.Fl Fl %s", before, option->name);
	for (size_t i = 0; i < count; i++)
		if (help_setting_taken(command, &defs[i]))
			printf("%s.Fl Fl %s", before, defs[i].name);
	puts(" .");
}

static void put_page_command(const struct command *command)
{
	printf(".Ss %s\n.D1 Nm brewspread Cm %s Oo Ar option ... Oc", command->name, command->name);
	if (command->operands[0])
		printf(" %s", command->operands);
	printf("\n.Pp\n");
	put_text(command->purpose);
	if (command->options && command->options->name) {
		puts(".Bl -tag -width Ds");
		for (const struct command_option *option = command->options; option->name; option++)
			put_page_option(option);
		puts(".El");
	}
	if (command->sections)
		put_page_settings(command);
	if (command->details) {
		puts(".Bd -literal");
		put_literal(command->details);
		puts(".Ed");
	}
	puts(".Pp\nExample:\n.Bd -literal -offset indent");
	printf("brewspread ");
	put_literal(command->example);
	puts(".Ed");
}

static void put_page_commands(void)
{
	size_t count;
	const struct command *const *list = commands(&count);

	for (size_t i = 0; i < count; i++)
		put_page_command(list[i]);
}

static void put_setting(const struct option_def *def)
{
	char *text = NULL;
	size_t size = 0;
	FILE *memory = open_memstream(&text, &size);

	if (!memory)
		exit(EXIT_SYSTEM);
	help_setting(memory, def);
	if (fclose(memory) != 0)
		exit(EXIT_SYSTEM);
	put_text(text);
	free(text);
}

/* keys: as in a file of settings, with their sections; else as options. */
static void put_page_all_settings(bool keys)
{
	size_t count;
	const struct option_def *defs = option_defs(&count);

	puts(".Bl -tag -width Ds");
	for (const struct command_option *option = help_settings_options(); !keys && option->name; option++)
		put_page_option(option);
	for (size_t i = 0; i < count; i++) {
		if (keys)
			printf(".It Bq %s\n.Li %s No =\n.Ar %s\n.br\n", defs[i].section, defs[i].name,
			       help_setting_argument(&defs[i]));
		else
			printf(".It Fl Fl %s Ar %s\n", defs[i].name, help_setting_argument(&defs[i]));
		put_setting(&defs[i]);
	}
	puts(".El");
}

static void put_page_column(const struct known_column *known)
{
	const char *before = "Also written:\n";

	printf(".It %s\n", known->name);
	if (known->expected)
		printf("Expected: %s.\n", known->expected);
	for (size_t i = 0; i < KNOWN_SPELLINGS && known->spellings[i]; i++) {
		const char *spelling = known->spellings[i];
		bool unit = *spelling == '=';

		if (strcmp(spelling, known->name) == 0)
			continue;
		printf("%s%s%s", before, spelling + unit, unit ? " (with a unit)" : "");
		before = ",\n";
	}
	puts(*before == ',' ? "." : "");
}

static void put_page_columns(void)
{
	size_t count;
	const struct known_column *known = known_columns(&count);

	puts(".Bl -tag -width Ds");
	for (size_t i = 0; i < count; i++)
		put_page_column(&known[i]);
	puts(".El");
}

static void put_page_profiles(void)
{
	size_t count;
	const struct profile_def *defs = builtin_profiles(&count);

	puts(".Bl -tag -width Ds");
	for (size_t i = 0; i < count; i++) {
		printf(".It Li %s\n", defs[i].name);
		put_text(defs[i].about);
		puts(".Bd -literal -offset indent");
		put_literal(defs[i].proof[0].line);
		puts(".Ed");
	}
	puts(".El");
}

static bool put_page(const char *path)
{
	FILE *in = fopen(path, "r");
	char line[1024];

	if (!in)
		return false;
	while (fgets(line, sizeof(line), in)) {
		if (strcmp(line, "@COMMANDS@\n") == 0)
			put_page_commands();
		else if (strcmp(line, "@SETTINGS@\n") == 0)
			put_page_all_settings(false);
		else if (strcmp(line, "@KEYS@\n") == 0)
			put_page_all_settings(true);
		else if (strcmp(line, "@COLUMNS@\n") == 0)
			put_page_columns();
		else if (strcmp(line, "@PROFILES@\n") == 0)
			put_page_profiles();
		else if (strcmp(line, "@DATADIR@\n") == 0)
			printf(".It Pa %s\n", program_datadir());
		else
			fputs(line, stdout);
	}
	return fclose(in) == 0;
}

/* -- completions ----------------------------------------------------------- */

enum argument_kind { ARGUMENT_NONE, ARGUMENT_OTHER, ARGUMENT_FILE, ARGUMENT_FOLDER, ARGUMENT_PROFILE };

static enum argument_kind argument_kind(const struct command_option *option)
{
	if (!option->argument)
		return ARGUMENT_NONE;
	if (strcmp(option->name, "profile") == 0)
		return ARGUMENT_PROFILE;
	if (strcmp(option->argument, "DIR") == 0 || strcmp(option->argument, "FOLDER") == 0)
		return ARGUMENT_FOLDER;
	if (strcmp(option->argument, "FILE") == 0 || strcmp(option->argument, "PATH") == 0 ||
	    strncmp(option->argument, "SOURCE", strlen("SOURCE")) == 0 || strcmp(option->argument, "MANIFEST") == 0)
		return ARGUMENT_FILE;
	return ARGUMENT_OTHER;
}

static bool takes_files(const struct command *command)
{
	return strstr(command->operands, "MANIFEST") || strstr(command->operands, "FILE") ||
	       strstr(command->operands, "READINGS");
}

/* The words that stand in the operands as they are to be typed, such as "zero", with a blank before each. */
static void put_literals(const struct command *command)
{
	for (const char *at = command->operands; *at;) {
		size_t len = strcspn(at, " ");

		if (islower((unsigned char)*at))
			printf(" %.*s", (int)len, at);
		at += len;
		at += strspn(at, " ");
	}
}

static void put_profiles(const char *before)
{
	size_t count;
	const struct profile_def *defs = builtin_profiles(&count);

	for (size_t i = 0; i < count; i++)
		printf("%s%s", i > 0 ? " " : before, defs[i].name);
}

typedef void option_writer(const struct command *command, const struct command_option *option);

/* Every option of the command, settings and help among them. */
static void each_option(const struct command *command, option_writer *write)
{
	static const struct command_option help = { "help", 0, NULL, "Prints what there is to know of the command." };
	size_t count;
	const struct option_def *defs = option_defs(&count);

	for (const struct command_option *own = command->options; own && own->name; own++)
		write(command, own);
	for (const struct command_option *extra = help_settings_options(); command->sections && extra->name; extra++)
		write(command, extra);
	for (size_t i = 0; i < count; i++) {
		struct command_option setting = { defs[i].name, 0, help_setting_argument(&defs[i]), defs[i].text };

		if (help_setting_taken(command, &defs[i]))
			write(command, &setting);
	}
	write(command, &help);
}

static void put_bash_option(const struct command *command, const struct command_option *option)
{
	(void)command;
	printf(" --%s", option->name);
}

static void put_bash_argument(const struct command *command, const struct command_option *option)
{
	static const char *const does[] = {
		[ARGUMENT_NONE] = NULL,
		[ARGUMENT_OTHER] = "return",
		[ARGUMENT_FILE] = "_brewspread_files f; return",
		[ARGUMENT_FOLDER] = "_brewspread_files d; return",
		[ARGUMENT_PROFILE] = "_brewspread_files f; _brewspread_words \"$profiles\"; return",
	};
	const char *action = does[argument_kind(option)];

	if (!action)
		return;
	printf("\t%s:--%s", command->name, option->name);
	if (option->letter)
		printf(" | %s:-%c", command->name, option->letter);
	printf(") %s ;;\n", action);
}

static void put_bash(void)
{
	size_t count;
	const struct command *const *list = commands(&count);

	puts("# Completion of brewspread for bash; made when the program was built.\n"
	     "_brewspread_files()\n{\n"
	     "\tlocal found\n"
	     "\tcompopt -o filenames 2>/dev/null || true\n"
	     "\twhile IFS= read -r found; do COMPREPLY+=(\"$found\"); done < <(compgen -\"$1\" -- \"$cur\")\n}\n\n"
	     "_brewspread_words()\n{\n"
	     "\tlocal found\n"
	     "\twhile IFS= read -r found; do COMPREPLY+=(\"$found\"); done < <(compgen -W \"$1\" -- \"$cur\")\n}\n\n"
	     "_brewspread()\n{\n"
	     "\tlocal cur=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]} options= words=");
	printf("\tlocal profiles='");
	put_profiles("");
	puts("'\n\tCOMPREPLY=()\n\tif [ \"$COMP_CWORD\" -eq 1 ]; then");
	printf("\t\t_brewspread_words 'help version");
	for (size_t i = 0; i < count; i++)
		printf(" %s", list[i]->name);
	puts("'\n\t\treturn\n\tfi\n\tcase ${COMP_WORDS[1]}:$before in");
	for (size_t i = 0; i < count; i++)
		each_option(list[i], put_bash_argument);
	puts("\tesac\n\tcase ${COMP_WORDS[1]} in");
	for (size_t i = 0; i < count; i++) {
		printf("\t%s)\n\t\toptions='", list[i]->name);
		each_option(list[i], put_bash_option);
		printf("' words='");
		put_literals(list[i]);
		puts("'");
		if (takes_files(list[i]))
			puts("\t\t[[ $cur == -?* ]] || _brewspread_files f");
		puts("\t\t;;");
	}
	puts("\t*) return ;;\n\tesac\n"
	     "\tif [[ $cur == -* ]]; then _brewspread_words \"$options\"; else _brewspread_words \"$words\"; fi\n}\n"
	     "complete -F _brewspread brewspread");
}

/* In single quotes, and what zsh's _arguments takes for its own escaped. */
static void put_quoted(const char *text, const char *escaped)
{
	for (; *text; text++) {
		if (*text == '\'')
			fputs("'\\''", stdout);
		else if (strchr(escaped, *text))
			printf("\\%c", *text);
		else
			putchar(*text);
	}
}

static void put_zsh_option(const struct command *command, const struct command_option *option)
{
	static const char *const does[] = {
		[ARGUMENT_NONE] = "",
		[ARGUMENT_OTHER] = " ",
		[ARGUMENT_FILE] = "_files",
		[ARGUMENT_FOLDER] = "_files -/",
		[ARGUMENT_PROFILE] = "_brewspread_profiles",
	};
	enum argument_kind kind = argument_kind(option);

	(void)command;
	for (int letter = option->letter ? 1 : 0; letter >= 0; letter--) {
		printf(" \\\n\t\t\t'*");
		if (letter)
			printf("-%c[", option->letter);
		else
			printf("--%s[", option->name);
		put_quoted(option->text, "[]:\\");
		putchar(']');
		if (kind != ARGUMENT_NONE)
			printf(":%s:%s", option->argument, does[kind]);
		putchar('\'');
	}
}

static void put_zsh(void)
{
	size_t count;
	const struct command *const *list = commands(&count);

	printf("#compdef brewspread\n# Completion of brewspread for zsh; made when the program was built.\n\n"
	       "_brewspread_profiles() { _files; compadd --");
	put_profiles(" ");
	puts(" }\n\n_brewspread() {\n\tlocal -a list\n\tlist=(");
	for (size_t i = 0; i < count; i++) {
		printf("\t\t'%s:", list[i]->name);
		put_quoted(list[i]->purpose, ":\\");
		puts("'");
	}
	puts("\t)\n\tif (( CURRENT == 2 )); then\n\t\t_describe command list\n\t\treturn\n\tfi\n"
	     "\tlocal command=$words[2]\n\tshift words\n\t(( CURRENT-- ))\n\tcase $command in");
	for (size_t i = 0; i < count; i++) {
		printf("\t%s)\n\t\t_arguments", list[i]->name);
		each_option(list[i], put_zsh_option);
		printf(" \\\n\t\t\t'*: :%s", takes_files(list[i]) ? "_files" : "(");
		if (!takes_files(list[i]))
			put_literals(list[i]);
		printf("%s'\n\t\t;;\n", takes_files(list[i]) ? "" : " )");
	}
	puts("\tesac\n}\n\n_brewspread \"$@\"");
}

static void put_fish_option(const struct command *command, const struct command_option *option)
{
	static const char *const does[] = {
		[ARGUMENT_NONE] = "",
		[ARGUMENT_OTHER] = " -x",
		[ARGUMENT_FILE] = " -r -F",
		[ARGUMENT_FOLDER] = " -x -a '(__fish_complete_directories)'",
		[ARGUMENT_PROFILE] = " -r -F -a \"$profiles\"",
	};

	printf("complete -c brewspread -n '__fish_seen_subcommand_from %s' -l %s", command->name, option->name);
	if (option->letter)
		printf(" -s %c", option->letter);
	printf("%s -d '", does[argument_kind(option)]);
	for (const char *at = option->text; *at; at++)
		printf(*at == '\'' || *at == '\\' ? "\\%c" : "%c", *at);
	puts("'");
}

static void put_fish(void)
{
	size_t count;
	const struct command *const *list = commands(&count);

	printf("# Completion of brewspread for fish; made when the program was built.\nset -l profiles '");
	put_profiles("");
	puts("'\ncomplete -c brewspread -f");
	for (size_t i = 0; i < count; i++) {
		printf("complete -c brewspread -n __fish_use_subcommand -a %s -d '", list[i]->name);
		for (const char *at = list[i]->purpose; *at; at++)
			printf(*at == '\'' || *at == '\\' ? "\\%c" : "%c", *at);
		puts("'");
	}
	for (size_t i = 0; i < count; i++) {
		printf("complete -c brewspread -n '__fish_seen_subcommand_from %s' %s -a '", list[i]->name,
		       takes_files(list[i]) ? "-F" : "-f");
		put_literals(list[i]);
		puts("'");
		each_option(list[i], put_fish_option);
	}
}

int main(int argc, char **argv)
{
	bool done = true;

	if (argc == 3 && strcmp(argv[1], "page") == 0)
		done = put_page(argv[2]);
	else if (argc == 2 && strcmp(argv[1], "bash") == 0)
		put_bash();
	else if (argc == 2 && strcmp(argv[1], "zsh") == 0)
		put_zsh();
	else if (argc == 2 && strcmp(argv[1], "fish") == 0)
		put_fish();
	else
		return EXIT_USAGE;
	return done && fflush(stdout) == 0 ? EXIT_DONE : EXIT_SYSTEM;
}
