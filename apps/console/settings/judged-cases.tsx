import { useState } from 'react';
import type { DiagnosisOutcome, JudgedCase, QualityQuestion } from '../client/generated/api.ts';
import { diagnosisOutcomeValues } from '../client/generated/api.ts';
import { useJudgedCases } from '../client/settings-queries.ts';
import { Choice } from '../shell/choice.tsx';
import type { LongColumn } from '../shell/long-table.tsx';
import { PagedList } from '../shell/paged-list.tsx';
import { Nothing } from '../shell/states.tsx';
import { day, inSentence, percent, plural, words } from '../shell/words.ts';

const COLUMNS: readonly LongColumn<JudgedCase>[] = [
  { key: 'opened', head: 'Came in', kind: 'date', cell: ({ openedAt }) => day(openedAt) },
  { key: 'outcome', head: 'The answer was', cell: ({ outcome }) => words(outcome) },
  { key: 'label', head: 'Proved', cell: ({ label, method }) => `${label.map(inSentence).join(' or ')}, ${inSentence(method)}` },
  {
    key: 'leading',
    head: 'Said first',
    cell: ({ leading, leadingProbability }) => `${inSentence(leading)}, ${percent(leadingProbability)}`,
  },
  { key: 'given', head: 'Gave the proved one', kind: 'number', cell: ({ labelProbability }) => percent(labelProbability) },
  { key: 'rank', head: 'Its place', kind: 'number', cell: ({ rank }) => rank ?? '–' },
  {
    key: 'open',
    head: 'Case',
    cell: ({ caseId, openedAt }) => (
      <a href={`#/bay/case/${caseId}`}>
        Open<span className="unseen"> the case of {day(openedAt)}</span>
      </a>
    ),
  },
];

/** The proved cases behind the figures, by how the answer ended. */
export function JudgedCases({ question }: { readonly question: QualityQuestion }) {
  const [outcome, setOutcome] = useState<DiagnosisOutcome | ''>('');
  const pages = useJudgedCases({ ...question, ...(outcome === '' ? {} : { outcome }) });
  return (
    <section className="sheet stack" aria-label="Proved cases">
      <div className="row spread">
        <h2>The proved cases behind it, newest first</h2>
        <Choice
          label="The answer was"
          value={outcome}
          options={diagnosisOutcomeValues.map((code) => [code, words(code)] as const)}
          none="anything"
          change={setOutcome}
        />
      </div>
      <PagedList
        pages={pages}
        what="the proved cases"
        nothing={<Nothing title="No such case.">Ask for another ending, or take the filters off.</Nothing>}
        caption={(cases) => `${plural(cases.length, 'case')} so far.`}
        rowKey={({ caseId }) => caseId}
        columns={COLUMNS}
        rowHeight={37}
      />
    </section>
  );
}
