import { createReadStream, statSync } from 'node:fs';
import { createInterface } from 'node:readline';
import { diagnoseOffline, parseIJson, parseInput } from '#libs/casebook/index.js';
import { DiagnosisQuestion, type DiagnosisResult, DomainError } from '#libs/contracts/index.js';
import { progressBar } from './progress.js';

/** Judges a file of readings, one question a line, with nothing but the engine: no database, no network. Exit code 1 when a line could not be read. */
export async function diagnoseCommand(file: string, options: { readonly json?: boolean }): Promise<void> {
  const input = file === '-' ? process.stdin : createReadStream(file);
  // On a terminal the answers show how far it is; where they go into a file a bar does, on standard error.
  const bar = file === '-' || process.stdout.isTTY ? null : progressBar('judging bytes', statSync(file).size);
  let read = 0;
  const count = (part: Buffer | string) => {
    read += part.length;
    bar?.update(read);
  };
  if (bar) input.on('data', count);
  let line = 0;
  for await (const text of createInterface({ input, crlfDelay: Number.POSITIVE_INFINITY })) {
    line++;
    if (text.trim() === '') continue;
    try {
      const result = diagnoseOffline(parseInput(DiagnosisQuestion, parseIJson(text)));
      console.log(options.json ? JSON.stringify({ line, result }) : shortly(line, result));
    } catch (error) {
      if (!(error instanceof DomainError)) throw error;
      process.exitCode = 1;
      if (options.json) console.log(JSON.stringify({ line, problem: { code: error.code, detail: error.message, errors: error.issues } }));
      else
        console.log(
          [
            `line ${line}: ${error.message}`,
            ...error.issues.map((one) => `  ${one.pointer}: ${one.detail} ${one.remedy ?? ''}`.trimEnd()),
          ].join('\n'),
        );
    }
  }
  bar?.stop();
  if (line === 0) throw new Error(`${file} is empty.`);
}

function shortly(line: number, result: DiagnosisResult): string {
  const faults = result.faults.slice(0, 3).map(({ code, probability }) => `${code} ${Math.round(probability * 100)} %`);
  return [
    `line ${line}: ${result.status === 'answered' ? faults.join(', ') : `cannot tell: ${result.reason ?? ''}`}`,
    `  ${result.summary}`,
    ...(result.nextTests[0] ? [`  next: ${result.nextTests[0].name}. ${result.nextTests[0].how}`] : []),
  ].join('\n');
}
