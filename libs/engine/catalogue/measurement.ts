import type { CatalogueEntry } from '../result.js';
import { ALL_LAYOUTS as ALL } from './circuit.js';

const measurement = (entry: Omit<CatalogueEntry, 'kind' | 'layouts' | 'leadsTo' | 'temporaryRemedy'>): CatalogueEntry => ({
  ...entry,
  kind: 'measurement',
  layouts: ALL,
  leadsTo: [],
  temporaryRemedy: null,
});

/** Mistakes of measurement. */
export const MEASUREMENT_ERRORS: readonly CatalogueEntry[] = [
  measurement({
    code: 'manifold-valves-open',
    name: 'Manifold hand valves open',
    mechanism: 'With the hand valves open the hoses join both sides: the gauges agree with each other while running.',
    provedBy: 'Close both hand valves and read again; the vehicle’s own transducer never took part.',
    causes: 'Valves left open after connecting.',
    permanentRemedy: 'Close the valves, let the system settle, read again.',
    caution: 'A running compressor pumps high pressure through open valves into the low side and the hoses.',
    seenBy: ['pressure-rise', 'valves-open-on-manifold'],
  }),
  measurement({
    code: 'port-not-opened',
    name: 'Port not opened by the coupler',
    mechanism: 'The coupler does not press the core: the gauge shows only what its hose holds.',
    provedBy: 'Turn the coupler in, or connect again; the value must follow the compressor.',
    causes: 'Coupler not turned down, short core, damaged port.',
    permanentRemedy: 'Connect again and read again.',
    caution: null,
    seenBy: ['static-excess', 'rest-difference', 'port-core-closed'],
  }),
  measurement({
    code: 'gauge-bias',
    name: 'Gauge off',
    mechanism: 'The gauge carries an error that is there at rest as well as running.',
    provedBy: 'Gauge open to the air must read zero; at rest it must agree with saturation after a soak.',
    causes: 'Needle shifted, set at another elevation, worn.',
    permanentRemedy: 'Set the zero at this elevation or replace the gauge.',
    caution: null,
    seenBy: ['rest-difference', 'static-excess'],
  }),
  measurement({
    code: 'transducer-bias',
    name: 'Transducer value read in the wrong reference',
    mechanism:
      'The scan tool’s value is absolute, or zeroed at sea level, and was taken as a gauge value, or the curve of another part was used.',
    provedBy: 'At rest its value minus a good gauge is the same before and after running; compare with the barometer.',
    causes: 'Reference not known, wrong curve chosen.',
    permanentRemedy: 'State the reference of this transducer for the platform.',
    caution: null,
    seenBy: ['rest-difference'],
  }),
  measurement({
    code: 'sample-unsettled',
    name: 'Read before the system settled',
    mechanism: 'Pressures and vents still move in the first minutes, and during a clutch cycle.',
    provedBy: 'Wait until nothing moves for a minute (about ten minutes of running), or read at the end of the on-time.',
    causes: 'Too short a run, doors just opened, a cycling clutch.',
    permanentRemedy: 'Repeat at the end of ten minutes.',
    caution: null,
    seenBy: ['running-minutes', 'pressure-trace', 'span'],
  }),
];
