import { DefaultReporter } from '@jest/reporters';

/** Jest's own report, closed by one plain line that any reader or machine understands. */
export default class ClosingLine extends DefaultReporter {
  onRunComplete(contexts, results) {
    super.onRunComplete?.(contexts, results);
    const broken = results.testResults.filter((file) => file.testExecError).length;
    for (const file of results.testResults) {
      if (file.failureMessage) process.stderr.write(`${file.testFilePath}\n${file.failureMessage}\n`);
    }
    const skipped = results.numPendingTests + results.numTodoTests;
    process.stdout.write(
      `\n${results.numPassedTests} passed, ${results.numFailedTests + broken} failed${skipped > 0 ? `, ${skipped} skipped` : ''}\n`,
    );
  }
}
