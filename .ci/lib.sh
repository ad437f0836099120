# What the steps share. Sourced by .ci/run.

ROOT="$PWD"
STEP="start"

# Heading before each step; the trap names the step that failed.
step() {
  STEP="$*"
  printf '\n== %s ==\n' "$STEP"
}

failed() {
  printf '\nFAILED (exit %s) in step: %s\n' "$1" "$STEP" >&2
}

# A copy of the project's files, as a clone would have them, in the new folder $1.
copy_to() {
  mkdir -p "$1"
  (
    cd "$ROOT"
    git -c safe.directory='*' ls-files -z --cached --others --exclude-standard |
      while IFS= read -r -d '' file; do
        if [ -e "$file" ]; then printf '%s\0' "$file"; fi
      done | tar --null --files-from - --create | tar --extract --directory "$1"
  )
}

# Runs README block $1 as it stands in the folder $2 with the home folder $3; $4, if given, stands first in PATH.
readme_block() {
  local line
  line="$(python3 "$2/.ci/readme_blocks.py" "$1")"
  printf '$ %s\n' "$line"
  (cd "$2" && HOME="$3" PATH="${4:+$4:}$PATH" sh -c "$line" </dev/null)
}

# Path of a Python of version $1 (3.12) on this machine, or nothing.
python_of() {
  local candidate
  for candidate in "$(command -v "python$1" || true)" "${PYENV_ROOT:-$HOME/.pyenv}/versions/$1".*/bin/python; do
    if [ -x "$candidate" ] && "$candidate" -c "import sys, venv; sys.exit('%d.%d' % sys.version_info[:2] != '$1')" 2>/dev/null
    then
      printf '%s\n' "$candidate"
      break
    fi
  done
}

# A folder $1 in which `python3` is the interpreter $2.
call_it_python3() {
  mkdir -p "$1"
  printf '#!/bin/sh\nexec "%s" "$@"\n' "$2" >"$1/python3"
  chmod +x "$1/python3"
}

# Fills the pip cache of the home folder $2 with a durable-rules that interpreter $1 builds but cannot import.
spoil_cache() {
  local spoiled="$2/spoiled"
  "$1" -m venv "$spoiled"
  HOME="$2" PIP_CACHE_DIR="$2/.cache/pip" "$spoiled/bin/python" -m pip install --quiet durable-rules==2.0.28
  if "$spoiled/bin/python" -c 'import durable.engine' 2>/dev/null; then
    echo "durable-rules loads here without the setting of CC; nothing was spoiled." >&2
    return 1
  elif [ -z "$(find "$2/.cache/pip" -name 'durable_rules*.whl')" ]; then
    echo "pip kept no wheel of durable-rules; its cache is not spoiled." >&2
    return 1
  fi
  rm -r "$spoiled"
  echo "A durable-rules that cannot be loaded lies in pip's cache."
}

# Installs the wheel $2 for interpreter $1 under the folder $3 and runs it from there, far from the clone.
try_installed() {
  local python="$3/venv/bin/python" carried cases=()
  mkdir -p "$3/home" "$3/elsewhere"
  "$1" -m venv "$3/venv"
  CC="cc -O2 -DPyEval_CallObject=PyObject_CallObject" "$python" -m pip install --quiet --no-cache-dir "$2"
  (
    cd "$3/elsewhere"
    export HOME="$3/home"
    "$python" -m diagnose --version
    "$python" -c 'import durable.engine'
    "$python" -m diagnose rules check
    carried="$("$python" -c 'from diagnose.book.place import shipped_cases; print(shipped_cases() or "")')"
    case "$carried" in "$3/venv/"*) ;; *) echo "The wheel carries no cases: $carried" >&2; return 1 ;; esac
    mapfile -d '' -t cases < <(find "$carried" -name '*.yaml' -print0 | sort -z)
    "$python" -m diagnose replay "${cases[@]}" </dev/null
  )
}
