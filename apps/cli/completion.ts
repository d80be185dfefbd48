import type { Command } from 'commander';

const SHELLS = ['bash', 'zsh', 'fish'] as const;

/** Words that may follow each command, from the program itself: what it can do and what can be completed are one list. */
function wordsOf(program: Command): { command: string; words: string[] }[] {
  return program.commands.map((command) => ({
    command: command.name(),
    words: [
      ...command.commands.map((inner) => inner.name()),
      ...command.options.map(({ long }) => long).filter((long): long is string => typeof long === 'string'),
      '--help',
    ],
  }));
}

/** Prints a script for a shell; `source <(coolback completion bash)` takes it into use. */
export function completionCommand(shell: string, program: Command): void {
  const commands = wordsOf(program);
  const names = commands.map(({ command }) => command).join(' ');
  switch (shell) {
    case 'bash':
      console.log(bash(commands, names));
      return;
    case 'zsh':
      console.log(`autoload -U +X bashcompinit && bashcompinit\n${bash(commands, names)}`);
      return;
    case 'fish':
      console.log(
        [
          `complete -c coolback -n __fish_use_subcommand -a "${names}"`,
          ...commands.flatMap(({ command, words }) =>
            words.map((word) => {
              const what = word.startsWith('--') ? `-l ${word.slice(2)}` : `-a ${word}`;
              return `complete -c coolback -n "__fish_seen_subcommand_from ${command}" ${what}`;
            }),
          ),
        ].join('\n'),
      );
      return;
    default:
      throw new Error(`There is no completion for ${shell}. Say one of: ${SHELLS.join(', ')}.`);
  }
}

const bash = (commands: readonly { command: string; words: string[] }[], names: string): string =>
  [
    '_coolback() {',
    // biome-ignore-start lint/suspicious/noTemplateCurlyInString: they are the shell's own
    '  local word="${COMP_WORDS[COMP_CWORD]}"',
    '  case "$COMP_CWORD:${COMP_WORDS[1]}" in',
    // biome-ignore-end lint/suspicious/noTemplateCurlyInString: as above
    `    1:*) COMPREPLY=($(compgen -W "${names} --help --version" -- "$word")) ;;`,
    ...commands.map(({ command, words }) => `    *:${command}) COMPREPLY=($(compgen -W "${words.join(' ')}" -- "$word")) ;;`),
    '  esac',
    '}',
    'complete -o default -F _coolback coolback',
  ].join('\n');
