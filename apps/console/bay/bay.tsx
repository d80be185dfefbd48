import { useMutation } from '@tanstack/react-query';
import { useEffect, useRef, useState } from 'react';
import { answer, newRequestKey, server } from '../client/client.ts';
import type { DiagnosisQuestion, DiagnosisResult, NewCase } from '../client/generated/api.ts';
import { useMe, usePlatforms, useShops } from '../client/queries.ts';
import { goTo } from '../shell/route.ts';
import { Nothing, Refused, Waiting } from '../shell/states.tsx';
import { Answer } from './answer.tsx';
import { CarForm } from './car-form.tsx';
import { EMPTY, habitsOf, highPassExample, newCaseOf, questionOf, useDraft } from './draft.ts';
import { ConditionsForm, FindingsForm, ReadingsForm } from './forms.tsx';
import { Holding, repairable } from './holding.tsx';
import { useKept } from './kept.ts';
import { platformOfVin } from './platform-of-vin.ts';
import { PressureEnthalpy } from './pressure-enthalpy.tsx';
import { foundNoServer, isStillToSend, useSendAgain } from './sending.ts';
import { SimilarToReadings } from './similar.tsx';
import { VehicleFinder } from './vehicle-finder.tsx';

interface Opening {
  readonly body: NewCase;
  readonly key: string;
}

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
      answerPlace.current?.focus({ preventScroll: true });
    },
  });
  // Where the answer stands below what is typed, it is brought up once it is drawn.
  useEffect(() => {
    if (judged !== null && window.innerWidth <= 1000) answerPlace.current?.scrollIntoView();
  }, [judged]);
  // The key of the request is kept with what it sends, also through a reload: sending again after a lost connection opens no second case.
  const [opening, setOpening] = useKept<Opening | null>('opening', null);
  const open = useMutation({
    mutationFn: async (sent: Opening) => {
      setOpening(sent);
      return answer(server.POST('/v1/cases', { body: sent.body, params: { header: { 'Idempotency-Key': sent.key } } }));
    },
    onSuccess: (made) => {
      setOpening(null);
      change({ ...EMPTY, ...habitsOf(draft) });
      goTo(`#/bay/case/${made.id}`);
    },
    onError: (error) => {
      if (!isStillToSend(error)) setOpening(null);
    },
  });
  // What could not be sent is sent when the server is back; a case that was under way when the page was left, when it is opened again.
  const unsent = open.isIdle && opening !== null;
  useSendAgain(unsent || foundNoServer(open.error), () => opening && open.mutate(opening));
  useSendAgain(foundNoServer(judge.error), () => judge.mutate(questionOf(draft)));
  const openCase = () => {
    const body = newCaseOf(draft);
    open.mutate(opening && JSON.stringify(opening.body) === JSON.stringify(body) ? opening : { body, key: newRequestKey() });
  };
  const onlyShop = shops.data?.length === 1 ? shops.data[0]!.id : null;
  // biome-ignore lint/correctness/useExhaustiveDependencies: filled in once, when the list has come; a person may change it
  useEffect(() => {
    if (onlyShop !== null && draft.shopId === '') change({ shopId: onlyShop });
  }, [onlyShop]);
  const named = draft.platformByHand || draft.platformId !== '' || !platforms.data ? null : platformOfVin(draft.vin, platforms.data);
  // biome-ignore lint/correctness/useExhaustiveDependencies: a VIN typed before the lists came, without a connection, names its platform when they come
  useEffect(() => {
    if (named) change({ platformId: named.id });
  }, [named?.id]);
  const form = useRef<HTMLFormElement>(null);
  const fresh = search.get('find') === null && search.get('example') === null && draft.vin === '';
  // biome-ignore lint/correctness/useExhaustiveDependencies: once, when the page opens for a new car
  useEffect(() => {
    // After the frame has given the page its own focus.
    if (fresh) setTimeout(() => form.current?.querySelector<HTMLInputElement>('#bay-vin')?.focus({ preventScroll: true }));
  }, []);
  const toReadings = () => form.current?.querySelector<HTMLInputElement>('.readings input')?.focus();
  const isExample = search.get('example') === 'high-pass';
  const example = isExample && platforms.data !== undefined && shops.data !== undefined;
  // biome-ignore lint/correctness/useExhaustiveDependencies: the example is typed in once, when its lists have come
  useEffect(() => {
    if (example) change(highPassExample(platforms.data!, shops.data!));
  }, [example]);
  const unlisted = platforms.error ?? shops.error;
  // Pressed before the example is typed in, Judge would ask about nothing.
  const isTyping = isExample && !example && !unlisted;
  useSendAgain(foundNoServer(unlisted), () => {
    platforms.refetch();
    shops.refetch();
  });
  // Without a connection there are no lists, and typing goes on; what was refused is said in place of the form.
  if (unlisted && !foundNoServer(unlisted)) {
    return (
      <div className="stack">
        <h1>The bay</h1>
        <Refused
          error={unlisted}
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
      {unlisted ? (
        <p className="state" role="status">
          No connection to the server, so platforms and shops are not listed now. What is typed here is kept in this tab; the lists come
          when the server answers.
        </p>
      ) : null}
      <div className="bay">
        <form
          ref={form}
          className="stack"
          aria-label="What was read"
          onSubmit={(event) => {
            event.preventDefault();
            judge.mutate(questionOf(draft));
          }}
        >
          <CarForm draft={draft} change={change} platforms={platforms.data ?? []} shops={shops.data ?? []} next={toReadings} />
          <ReadingsForm draft={draft} change={change} platforms={platforms.data ?? []} />
          <ConditionsForm draft={draft} change={change} />
          <FindingsForm draft={draft} change={change} />
          <div className="row sticky">
            <button type="submit" className="primary" disabled={judge.isPending || isTyping}>
              Judge
            </button>
            <button
              type="button"
              disabled={!mayWrite || draft.shopId === '' || open.isPending}
              onClick={openCase}
              aria-describedby="open-note"
            >
              Open a case with it
            </button>
            <button
              type="button"
              onClick={() => {
                change({ ...EMPTY, ...habitsOf(draft) });
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
          {unsent ? (
            <p className="state" role="status">
              A case from before the reload was not sent yet. It is sent once the server answers.
            </p>
          ) : null}
          {open.error ? <Refused error={open.error} what="this case" again={openCase} /> : null}
          {judge.error ? <Refused error={judge.error} what="these readings" again={() => judge.mutate(questionOf(draft))} /> : null}
          {judge.isPending && judged === null ? <Waiting what="the engine’s answer" /> : null}
          {judged !== null ? (
            <>
              <Answer
                result={judged.result}
                readings={(judged.question.evidence.readings ?? []).map((reading, i) => ({ ...reading, id: `r${i + 1}` }))}
                platform={platforms.data?.find(({ id }) => id === judged.question.platformId) ?? null}
                layout={judged.question.system?.layout ?? null}
                maps={judged.question.evidence.thermalMaps ?? []}
                traces={judged.question.evidence.traces ?? []}
                units={{ pressure: draft.pressureUnit, temperature: draft.temperatureUnit }}
                cycle={
                  <PressureEnthalpy
                    of={['typed', judged.question]}
                    ask={() => answer(server.POST('/v1/cycles', { body: judged.question }))}
                    units={{ pressure: draft.pressureUnit, temperature: draft.temperatureUnit }}
                  />
                }
              />
              <Holding
                shopId={judged.question.shopId ?? null}
                platformId={judged.question.platformId ?? null}
                faults={repairable(judged.result)}
                caseId={null}
                offer={null}
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
