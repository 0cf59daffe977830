# SPDX-License-Identifier: GPL-3.0-or-later
# Turns what `cavum --help` and `cavum COMMAND --help` print into completion for bash or zsh. Variable: shell.
# Files are named after their commands: cavum.1.txt, cavum-draw.1.txt, ...; the first is that of the program.
# Run with ARGP_HELP_FMT=rmargin=500, so that each option is one line. Variable program: it is asked for the words that an
# option takes: whoever gives a wrong one is told all that there are, from the table by which they are read.
function ask_words(command, name,   answer, line, words) {
  line = program " " command " x " name "=? 2>&1"
  if ((line | getline answer) <= 0 || !sub(/^.*: expected /, "", answer)) answer = ""
  close(line)
  gsub(/ or /, " ", answer); gsub(/,/, "", answer)
  return answer
}
function quote(text) { gsub(/'/, "'\\''", text); return text }
# zsh: what ends a description or a message is escaped.
function zsh_text(text) { gsub(/:/, "\\\\:", text); gsub(/\[/, "\\\\[", text); gsub(/\]/, "\\\\]", text); return quote(text) }
function take_option(line,   text, at, words, count, i, name, argument, extra, choices) {
  sub(/^ +/, "", line)
  at = match(line, /   *[^ -]/)
  text = at ? substr(line, at) : ""
  sub(/^ +/, "", text); sub(/[.:;,(] .*|[.]$/, "", text)
  line = at ? substr(line, 1, at - 1) : line
  if (match(line, /\[=[a-z][-a-z]*\]/)) extra = substr(line, RSTART + 1, RLENGTH - 2); else extra = ""
  sub(/\[=.*\]/, "", line)  # an argument that may be left out
  sub(/,\.\.\./, "", line)  # an argument that is a list
  count = split(line, words, /, */)
  argument = words[count]; if (!sub(/^[^=]*=/, "", argument)) argument = ""
  for (i = 1; i <= count; i++) {
    name = words[i]; sub(/=.*/, "", name)
    if (name !~ /^--?[A-Za-z][-A-Za-z]*$/) continue
    options[command] = options[command] " " name
    if (extra != "") options[command] = options[command] " " name extra
    if (argument != "") takes[command] = takes[command] " " name
    choices = argument ~ /^(WORD|UNIT|PART)$/ ? ask_words(command, name) : ""
    if (choices != "") worded[command] = worded[command] "\n        " name ") words='" choices "' ;;"
    described[command] = described[command] " \\\n        '" (argument != "" && name ~ /^--/ ? name "=" : name) \
      "[" zsh_text(text) "]" (choices != "" ? ":" tolower(argument) ":(" choices ")" : argument != "" ? ":" tolower(argument) ":_files" : "") "'"
    if (extra != "") described[command] = described[command] " \\\n        '" name extra "[" zsh_text(text) "]'"
  }
}
FNR == 1 {
  command = FILENAME; sub(/^.*\//, "", command); sub(/\.1\.txt$/, "", command); sub(/^cavum-?/, "", command)
  if (command != "") order[++commands] = command
  listing = examples = 0
}
/^Examples:/ { examples = 1 }
/^Usage: |^  or:  / {
  line = $0
  while (match(line, /\.(yaml|hdf)/)) {
    ending = substr(line, RSTART + 1, RLENGTH - 1)
    if (index(" " endings[command] " ", " " ending " ") == 0) endings[command] = endings[command] " " ending
    line = substr(line, RSTART + RLENGTH)
  }
  next
}
/^Commands:/ { listing = 1; next }
/^$/ { listing = 0 }
listing { summary = $0; sub(/^ +[^ ]+ +/, "", summary); summaries[$1] = summary; words_of_program = words_of_program " " $1; next }
!examples && /^ +-/ { take_option($0) }
END {
  if (shell == "zsh") write_zsh(); else write_bash()
}
function write_bash(   i, c, ends) {
  print "# Completion of cavum for bash; made from its help."
  print "_cavum() {"
  print "  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} options= takes= endings= words= ending file list"
  print "  COMPREPLY=()"
  print "  if [ \"$COMP_CWORD\" -eq 1 ]; then"
  print "    mapfile -t COMPREPLY < <(compgen -W '" substr(words_of_program, 2) options[""] "' -- \"$word\")"
  print "    return"
  print "  fi"
  print "  # --option=word is three words here, --option word two."
  print "  local option=$before"
  print "  if [ \"$word\" = = ]; then word= option=$before; elif [ \"$before\" = = ]; then option=${COMP_WORDS[COMP_CWORD-2]}; fi"
  print "  case ${COMP_WORDS[1]} in"
  for (i = 1; i <= commands; i++) {
    c = order[i]
    print "    " c ")\n      options='" substr(options[c], 2) "'\n      takes='" substr(takes[c], 2) "'\n      endings='" \
      substr(endings[c], 2) "'" (worded[c] == "" ? "" : "\n      case $option in" worded[c] "\n      esac") "\n      ;;"
  }
  print "    help)\n      mapfile -t COMPREPLY < <(compgen -W '" substr(words_of_program, 2) "' -- \"$word\")\n      return\n      ;;"
  print "  esac"
  print "  if [ \"$words\" ]; then"
  print "    list=; [[ $word == *,* ]] && list=${word%,*},"
  print "    mapfile -t COMPREPLY < <(compgen -P \"$list\" -W \"$words\" -- \"${word##*,}\")"
  print "  elif [[ $word == -* ]]; then"
  print "    mapfile -t COMPREPLY < <(compgen -W \"$options\" -- \"$word\")"
  print "  elif [[ \" $takes \" == *\" $option \"* ]]; then"
  print "    mapfile -t COMPREPLY < <(compgen -f -- \"$word\")"
  print "  else"
  print "    mapfile -t COMPREPLY < <(compgen -d -- \"$word\")"
  print "    for ending in $endings; do"
  print "      while IFS= read -r file; do COMPREPLY+=(\"$file\"); done < <(compgen -f -X \"!*.$ending\" -- \"$word\")"
  print "    done"
  print "  fi"
  print "}"
  print "complete -o filenames -F _cavum cavum"
}
function write_zsh(   i, c, ends) {
  print "#compdef cavum"
  print "# Completion of cavum for zsh; made from its help."
  print "_cavum() {"
  print "  local -a commands=("
  for (i = 1; i <= split(substr(words_of_program, 2), all, " "); i++) {
    print "    '" all[i] ":" zsh_text(summaries[all[i]]) "'"
  }
  print "  )"
  print "  if (( CURRENT == 2 )); then"
  print "    _describe command commands"
  print "    return"
  print "  fi"
  print "  local command=$words[2]"
  print "  shift words; (( CURRENT-- ))"
  print "  case $command in"
  for (i = 1; i <= commands; i++) {
    c = order[i]
    ends = substr(endings[c], 2); gsub(/ /, "|", ends)
    print "    " c ")\n      _arguments" described[c] (ends == "" ? "" : " \\\n        '*:file:_files -g \"*.(" ends ")(-.)\"'") "\n      ;;"
  }
  print "    help) _describe command commands ;;"
  print "  esac"
  print "}"
  print "_cavum \"$@\""
}
