import type { FindingCode, Instrument, NewReading, Place, ReadingPhase, ReadingQuantity } from '../client/generated/api.ts';

/** A value a technician usually reads, with everything about it known but the number. */
export interface Slot {
  readonly id: string;
  readonly label: string;
  readonly quantity: ReadingQuantity;
  readonly place: Place;
  readonly phase?: ReadingPhase;
  readonly instrument: Instrument;
  readonly reference?: NewReading['reference'];
  readonly meaning?: NewReading['meaning'];
  /** When the unit is not the chosen pressure or temperature unit. */
  readonly unit?: string;
}

const gauge = (id: string, label: string, place: Place, phase: ReadingPhase): Slot => ({
  id,
  label,
  quantity: 'pressure',
  place,
  phase,
  instrument: 'manifold-gauge',
  reference: 'vented-gauge',
});
const transducer = (id: string, phase: ReadingPhase): Slot => ({
  id,
  label: 'High side, car’s transducer',
  quantity: 'pressure',
  place: 'high-side-transducer',
  phase,
  instrument: 'vehicle-transducer',
  reference: 'vented-gauge',
});
const warmth = (id: string, label: string, place: Place): Slot => ({
  id,
  label,
  quantity: 'temperature',
  place,
  phase: 'running',
  instrument: 'thermometer',
});

export const REST_SLOTS: readonly Slot[] = [
  gauge('rest-low', 'Low side, gauge', 'low-side-port', 'rest'),
  gauge('rest-high', 'High side, gauge', 'high-side-port', 'rest'),
  transducer('rest-transducer', 'rest'),
];
export const RUNNING_SLOTS: readonly Slot[] = [
  gauge('run-low', 'Low side, gauge', 'low-side-port', 'running'),
  gauge('run-high', 'High side, gauge', 'high-side-port', 'running'),
  transducer('run-transducer', 'running'),
  warmth('vent', 'Air at the vent', 'vent'),
];
export const MORE_SLOTS: readonly Slot[] = [
  warmth('discharge-temperature', 'Compressor outlet, tube', 'compressor-discharge'),
  warmth('condenser-in-temperature', 'Condenser inlet, tube', 'condenser-inlet'),
  warmth('condenser-out-temperature', 'Condenser outlet, tube', 'condenser-outlet'),
  warmth('before-drier-temperature', 'Before the drier or cartridge', 'liquid-line-before-drier'),
  warmth('after-drier-temperature', 'After the drier or cartridge', 'liquid-line-after-drier'),
  warmth('valve-temperature', 'Expansion valve or tube, inlet', 'valve-inlet'),
  warmth('suction-temperature', 'Evaporator outlet, tube', 'evaporator-outlet'),
  {
    id: 'recovered',
    label: 'Refrigerant recovered',
    quantity: 'mass',
    place: 'service-machine',
    instrument: 'service-machine',
    meaning: 'recovered-charge',
    unit: 'g',
  },
  {
    id: 'air-share',
    label: 'Air shown by the identifier',
    quantity: 'fraction',
    place: 'service-machine',
    instrument: 'identifier',
    meaning: 'air-share',
    unit: '%',
  },
];
export const ALL_SLOTS: readonly Slot[] = [...REST_SLOTS, ...RUNNING_SLOTS, ...MORE_SLOTS];

/** Findings in the order of a walk around the car. */
export const FINDING_GROUPS: readonly { readonly name: string; readonly codes: readonly FindingCode[] }[] = [
  {
    name: 'Condenser, cartridge and drier',
    codes: [
      'condenser-fins-dirty',
      'condenser-fins-clean',
      'condenser-fan-stopped',
      'condenser-fan-runs',
      'condenser-rows-cold',
      'condenser-even',
      'temperature-step-at-condenser',
      'temperature-step-at-cartridge',
      'temperature-drop-at-drier',
      'mist-drops-head',
      'frost-at-drier',
      'frost-at-line',
      'cartridge-black',
      'cartridge-clean',
      'desiccant-hard',
      'desiccant-loose',
    ],
  },
  {
    name: 'Compressor and oil',
    codes: [
      'compressor-noise',
      'compressor-locked',
      'clutch-slips',
      'clutch-off',
      'metal-fines',
      'metal-fines-magnetic',
      'oil-black',
      'oil-clean',
    ],
  },
  {
    name: 'Valve or orifice tube, and leaks',
    codes: [
      'frost-at-valve',
      'valve-screen-dark',
      'orifice-screen-dark',
      'orifice-screen-clean',
      'orifice-screen-granules',
      'hose-collapsed',
      'oil-at-joint',
      'dye-at-joint',
      'bubbles-in-sight-glass',
      'sealant-positive',
      'sealant-negative',
    ],
  },
  {
    name: 'Cabin and gauges',
    codes: [
      'cold-then-warm',
      'evaporator-iced',
      'cabin-filter-blocked',
      'blower-weak',
      'vents-differ-left-right',
      'heater-hose-hot',
      'valves-open-on-manifold',
      'port-core-closed',
    ],
  },
];
