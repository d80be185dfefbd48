import { useMutation } from '@tanstack/react-query';
import { useEffect, useRef, useState } from 'react';
import { answer, newRequestKey, Refusal, server } from '../client/client.ts';
import type { DiagnosisQuestion, DiagnosisResult } from '../client/generated/api.ts';
import { useMe, usePlatforms, useShops } from '../client/queries.ts';
import { goTo } from '../shell/route.ts';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { Answer } from './answer.tsx';
import { EMPTY, highPassExample, newCaseOf, questionOf, useDraft } from './draft.ts';
import { CarForm, ConditionsForm, FindingsForm, ReadingsForm } from './forms.tsx';
import { Holding, repairable } from './holding.tsx';
import { SimilarToReadings } from './similar.tsx';
import { VehicleFinder } from './vehicle-finder.tsx';

interface Judged {
  readonly question: DiagnosisQuestion;
  readonly result: DiagnosisResult;
}

/** The technician's page: what is typed on the left is judged on the right, and becomes a case when it should be kept. */
export function Bay({ search }: { readonly search: URLSearchParams }) {
  const platforms = usePlatforms();
  const shops = useShops();
  const me = useMe();
  const [draft, change] = useDraft();
  const [judged, setJudged] = useState<Judged | null>(null);
  const answerPlace = useRef<HTMLDivElement>(null);
  const judge = useMutation({
    mutationFn: async (question: DiagnosisQuestion): Promise<Judged> => ({
      question,
      result: await answer(server.POST('/v1/diagnoses', { body: question })),
    }),
    onSuccess: (done) => {
      setJudged(done);
      answerPlace.current?.focus({ preventScroll: window.innerWidth > 1000 });
    },
  });
  // The key of the request is kept with the draft it sends: pressing again after a lost connection opens no second case.
  const opening = useRef<{ readonly body: string; readonly key: string } | null>(null);
  const open = useMutation({
    mutationFn: async () => {
      const body = newCaseOf(draft);
      const text = JSON.stringify(body);
      if (opening.current?.body !== text) opening.current = { body: text, key: newRequestKey() };
      return answer(server.POST('/v1/cases', { body, params: { header: { 'Idempotency-Key': opening.current.key } } }));
    },
    onSuccess: (made) => {
      change(EMPTY);
      goTo(`#/bay/case/${made.id}`);
    },
  });
  // What could not be sent is sent when the connection is back.
  const offline = [judge, open].some(({ error }) => error instanceof Refusal && error.status === 0);
  useEffect(() => {
    if (!offline) return;
    const send = () => {
      if (open.error) open.mutate();
      else judge.mutate(questionOf(draft));
    };
    window.addEventListener('online', send);
    return () => window.removeEventListener('online', send);
  }, [offline, open, judge, draft]);
  const example = search.get('example') === 'high-pass' && platforms.data !== undefined && shops.data !== undefined;
  // biome-ignore lint/correctness/useExhaustiveDependencies: the example is typed in once, when its lists have come
  useEffect(() => {
    if (example) change(highPassExample(platforms.data!, shops.data!));
  }, [example]);
  if (platforms.error ?? shops.error) {
    return (
      <div className="stack">
        <h1>The bay</h1>
        <Refused
          error={platforms.error ?? shops.error}
          what="platforms and shops"
          again={() => {
            platforms.refetch();
            shops.refetch();
          }}
        />
      </div>
    );
  }
  const mayWrite = me.data?.permissions.includes('cases:write') ?? false;
  return (
    <div className="stack">
      <div className="row spread">
        <h1>The bay</h1>
        <VehicleFinder key={search.get('find')} given={search.get('find')} />
      </div>
      <div className="bay">
        <form
          className="stack"
          aria-label="What was read"
          onSubmit={(event) => {
            event.preventDefault();
            judge.mutate(questionOf(draft));
          }}
        >
          <CarForm draft={draft} change={change} platforms={platforms.data ?? []} shops={shops.data ?? []} />
          <ReadingsForm draft={draft} change={change} />
          <ConditionsForm draft={draft} change={change} />
          <FindingsForm draft={draft} change={change} />
          <div className="row sticky">
            <button type="submit" className="primary" disabled={judge.isPending}>
              Judge
            </button>
            <button
              type="button"
              disabled={!mayWrite || draft.shopId === '' || open.isPending}
              onClick={() => open.mutate()}
              aria-describedby="open-note"
            >
              Open a case with it
            </button>
            <button
              type="button"
              onClick={() => {
                change(EMPTY);
                setJudged(null);
              }}
            >
              Clear
            </button>
            <small id="open-note">
              {!mayWrite
                ? 'This key may judge readings but not open cases.'
                : draft.shopId === ''
                  ? 'A case needs a shop. Judging saves nothing.'
                  : 'Judging saves nothing; a case is kept.'}
            </small>
          </div>
        </form>
        <section className="stack answer" ref={answerPlace} tabIndex={-1} aria-label="Answer" aria-busy={judge.isPending}>
          {open.error ? <Refused error={open.error} what="this case" again={() => open.mutate()} /> : null}
          {judge.error ? <Refused error={judge.error} what="these readings" again={() => judge.mutate(questionOf(draft))} /> : null}
          {judge.isPending && judged === null ? <Waiting what="the engine’s answer" /> : null}
          {judged !== null ? (
            <>
              <Answer
                result={judged.result}
                readings={(judged.question.evidence.readings ?? []).map((reading, i) => ({ ...reading, id: `r${i + 1}` }))}
                platform={platforms.data?.find(({ id }) => id === judged.question.platformId) ?? null}
                layout={judged.question.system?.layout ?? null}
                units={{ pressure: draft.pressureUnit, temperature: draft.temperatureUnit }}
              />
              <Holding
                shopId={judged.question.shopId ?? null}
                platformId={judged.question.platformId ?? null}
                faults={repairable(judged.result)}
              />
              <SimilarToReadings question={judged.question} shops={shops.data ?? []} />
            </>
          ) : judge.isPending || judge.error ? null : (
            <Nothing title="Nothing judged yet.">
              Name the car, type what the gauges show, and press Judge. To see an answer at once,{' '}
              <a href="#/bay?example=high-pass">take the example</a>: a car at 1,800 m.
            </Nothing>
          )}
        </section>
      </div>
    </div>
  );
}
