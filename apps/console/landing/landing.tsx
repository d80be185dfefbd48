import { useAccess } from '../client/key.ts';
import { useMe } from '../client/queries.ts';
import { address } from '../shell/route.ts';
import { SharedDevice } from '../shell/shared-device.tsx';
import { KeyEntry, Refused } from '../shell/states.tsx';
import { words } from '../shell/words.ts';

/** An invented car of the demo region: its stop-gap cartridge came back twice, then its condenser had to go. */
const DEMO_VIN = '9HC048A19HA000048';

interface Person {
  readonly who: string;
  readonly line: string;
  readonly tasks: readonly { readonly href: string; readonly name: string; readonly what: string }[];
}

const PEOPLE: readonly Person[] = [
  {
    who: 'I repair cars',
    line: 'Technician: a car comes in cooling poorly.',
    tasks: [
      {
        href: address('/bay', { example: 'high-pass' }),
        name: 'Judge a set of readings',
        what: 'A car at 1,800 m whose port gauge and transducer part when the compressor runs. Typed in already: press Judge, and see where in the circuit it loses pressure.',
      },
      {
        href: address('/bay', { find: DEMO_VIN }),
        name: 'Find a car by its VIN',
        what: 'A car of the demo region, filled in already: what was found and done on it, at whatever shop, and how it held.',
      },
      {
        href: address('/bay'),
        name: 'Open a case of your own',
        what: 'Name the car, type what the gauges show, see what is worth testing next, and photograph what came out.',
      },
    ],
  },
  {
    who: 'I run the shops',
    line: 'Service director: which faults come back, where, after what.',
    tasks: [
      {
        href: address('/recurrences'),
        name: 'See what recurs',
        what: 'Every platform, fault and kind of repair, the surest returns first.',
      },
      {
        href: address('/recurrences', { fault: 'filter-cartridge' }),
        name: 'Follow the clogged cartridges',
        what: 'On which platforms the stop-gap cartridge lasts a hot season, and on which it does not.',
      },
      {
        href: address('/recurrences', { fault: 'undercharge' }),
        name: 'Weigh the stop-gap against the cure',
        what: 'Open a line: topping up against replacing the seals, on one chart, with the cases behind it.',
      },
    ],
  },
  {
    who: 'I connect software',
    line: 'Integrator: cases come from the programs the shops already use.',
    tasks: [
      {
        href: address('/feeds'),
        name: 'Push a case',
        what: 'A request with your own key to copy into a terminal. Sending it twice changes nothing.',
      },
      { href: '/docs', name: 'Read the API reference', what: 'Every operation, with its body and every refusal it can give.' },
      { href: '/graphiql.html', name: 'Ask in GraphQL', what: 'The same operations as one graph, with the schema beside the query.' },
    ],
  },
];

export function Landing() {
  const access = useAccess();
  const me = useMe();
  return (
    <div className="stack">
      <div className="stack">
        <h1>Air conditioning that comes back to the shop: see why, and on which cars.</h1>
        <p className="lead">
          Cases of many shops, one engine that judges the readings, and every repair followed until the car returns. Pick who you are; each
          task works on the demo region.
        </p>
      </div>
      {access === null ? (
        <section className="sheet" aria-label="Key">
          <KeyEntry label="First, your key" />
        </section>
      ) : access === 'shared-device' ? (
        <SharedDevice>
          <Signed me={me} />
        </SharedDevice>
      ) : (
        <Signed me={me} />
      )}
      <div className="who-cards">
        {PEOPLE.map(({ who, line, tasks }) => (
          <section className="sheet who-card" key={who}>
            <h2>{who}</h2>
            <p className="quiet">{line}</p>
            <ol>
              {tasks.map(({ href, name, what }) => (
                <li key={name}>
                  <a href={href}>
                    <strong>{name}</strong> {what}
                  </a>
                </li>
              ))}
            </ol>
          </section>
        ))}
      </div>
      <p className="quiet">
        The engine advises. Licensed practice, the maker’s procedure and local code decide. Refrigerant is recovered, never vented.
      </p>
    </div>
  );
}

function Signed({ me }: { readonly me: ReturnType<typeof useMe> }) {
  if (me.error) return <Refused error={me.error} what="this key" again={() => me.refetch()} />;
  if (!me.data) return null;
  return (
    <p className="quiet">
      Your key: {words(me.data.role)} in {me.data.organisationName}.
    </p>
  );
}
