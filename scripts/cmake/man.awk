# SPDX-License-Identifier: GPL-3.0-or-later
# Turns what `cavum COMMAND --help` prints into a page for man (groff_man(7)): the usage lines become the
# synopsis, options a list, examples are kept as they are. Variables: name, version.
# Run with ARGP_HELP_FMT=rmargin=500, so that each option is one line.
function escape(text) {
  gsub(/\\/, "\\e", text)
  gsub(/-/, "\\-", text)
  if (text ~ /^['.]/) text = "\\\\&" text
  return text
}
function section(title) { if (title != last) print ".SH " title; last = title }
BEGIN {
  printf ".TH \"%s\" 1 \"\" \"cavum %s\" \"User commands\"\n", toupper(name), version
  part = "usage"
}
/^Usage: |^  or:  / {
  line = $0; sub(/^Usage: |^  or:  /, "", line); usage[++usages] = line; next
}
usages && !described {
  # The first line of the description; its first sentence names the page.
  described = 1
  summary = $0; sub(/[.:;] .*|[.]$/, "", summary)
  print ".SH NAME"; print escape(name) " \\- " escape(summary)
  print ".SH SYNOPSIS"
  for (i = 1; i <= usages; i++) print (i > 1 ? ".br\n" : "") ".B " escape(usage[i])
  print ".SH DESCRIPTION"; last = "DESCRIPTION"; print escape($0); next
}
/^Mandatory or optional arguments to long options/ { getline; next }
/^for any corresponding short options/ { next }
/^Commands:/ { section("COMMANDS"); listing = 1; next }
/^Examples:/ { section("EXAMPLES"); print ".nf"; listing = 0; examples = 1; next }
/^Exit status:/ { if (examples) print ".fi"; examples = 0; section("EXIT STATUS"); sub(/^Exit status: /, ""); print escape($0); next }
/^$/ { if (examples) { print ".fi"; examples = 0 } listing = 0; if (last == "DESCRIPTION") print ".P"; next }
examples { line = $0; sub(/^  /, "", line); print escape(line); next }
listing { line = $0; sub(/^ +/, "", line); word = line; sub(/ .*/, "", word); sub(/^[^ ]+ +/, "", line)
  print ".TP\n.B " escape(word); print escape(line); next }
/^ +-/ {
  section("OPTIONS")
  line = $0; sub(/^ +/, "", line)
  at = match(line, /   +[^ -]/)
  if (at == 0) { at = match(line, /  +[^ -]/) }
  option = at ? substr(line, 1, at - 1) : line
  text = at ? substr(line, at) : ""
  sub(/^ +/, "", text)
  print ".TP\n.B " escape(option)
  if (text) print escape(text)
  next
}
{ line = $0; sub(/^ +/, "", line); print escape(line) }
END { if (examples) print ".fi" }
