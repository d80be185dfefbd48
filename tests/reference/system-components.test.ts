import { describe, expect, it } from '@jest/globals';
import { humidityRatioFromDewPoint, moistAirEnthalpy } from '#libs/air/index.js';
import { type Compression, compress } from '#libs/system/compressor.js';
import { surfaceTemperature } from '#libs/system/evaporator.js';
import { typicalHardware } from '#libs/system/index.js';
import { pressureLoss } from '#libs/system/line.js';
import { propertiesOf } from '#libs/system/properties.js';
import { NIST_ROWS } from './system-data.js';

const kelvin = (fahrenheit: number): number => (fahrenheit - 32) / 1.8 + 273.15;
const ATMOSPHERE = 101_325;
/** lb/h to kg/s, Btu/h to W, standard cubic feet a minute (0.075 lb/ft3 dry air) to kg/s. */
const LB_PER_HOUR = 0.45359237 / 3600;
const BTU_PER_HOUR = 0.29307107;
const SCFM = (0.075 * 0.45359237) / 60;

describe('compressor against textbook cycles (R-134a)', () => {
  const fluid = propertiesOf('R-134a');
  const out: Compression = { flow: 0, hDischarge: 0, power: 0 };
  const base = typicalHardware('valve-receiver', 'fixed-clutch', 'R-134a').compressor;
  const at = (isentropic: number) => ({ ...base, isentropicBase: isentropic, isentropicPerSpeed: 0, isentropicStrokeLoss: 0 });

  it('Cengel and Boles, refrigerator with 0.20 MPa/-5 C at the inlet and 1.2 MPa/70 C at the exit: 3.63 kW at 0.07 kg/s, efficiency 74.1 %', () => {
    const h1 = fluid.tables.hPT(0.2e6, 268.15);
    compress(at(0.741), { leakage: 0, isentropicShare: 1 }, fluid, 0.2e6, h1, 1.2e6, 1, 25, out);
    // Work printed to three digits (0.14 %); the efficiency's last digit moves the exit by 0.1 K.
    expect((0.07 * (out.hDischarge - h1)) / 1000).toBeCloseTo(3.63, 1);
    expect(fluid.T(1.2e6, out.hDischarge) - 343.15).toBeCloseTo(0, 0);
    expect(out.power).toBeCloseTo(out.flow * (out.hDischarge - h1), 6);
  });

  it('Cengel and Boles, ideal cycle 0.14/0.8 MPa at 0.05 kg/s: 1.81 kW (from memory)', () => {
    const h1 = fluid.tables.hVapour(0.14e6);
    compress(at(1), { leakage: 0, isentropicShare: 1 }, fluid, 0.14e6, h1, 0.8e6, 1, 25, out);
    expect((0.05 * (out.hDischarge - h1)) / 1000).toBeCloseTo(1.81, 2);
  });

  it('shaft power lies with published vehicle compressors: 2.2 kW at 1,030 rpm to 7.1 kW at 5,000 rpm, small car', () => {
    // NREL vehicle simulator accessory file (2002); load and condensing temperature are not stated there: a hot day is assumed, 60 C, so half to
    // one and a half times the printed value is all this can tell.
    const h1 = fluid.tables.hPT(3e5, 285);
    for (const [rpm, watts] of [
      [1030, 2233],
      [2065, 3590],
      [3515, 5006],
      [5000, 7121],
    ] as const) {
      compress(base, { leakage: 0, isentropicShare: 1 }, fluid, 3e5, h1, 17e5, 1, rpm / 60, out);
      expect(out.power / watts).toBeGreaterThan(0.5);
      expect(out.power / watts).toBeLessThan(1.5);
    }
  });
});

describe('NISTIR 7350, 16 no-fault tests of an R-410A heat pump', () => {
  it('liquid-line loss follows k m^2/rho: one k for all rows', () => {
    // Between 77 and 110 F liquid R-410A loses about an eighth of its density (from memory), so k/rho spreads by 6 % either side of its mean; a part of
    // the line is vertical and adds a constant head of some per cent.
    const k = NIST_ROWS.map((row) => row['liqline_dp_psid']! / row['mdot_lbmh']! ** 2);
    const mean = k.reduce((a, b) => a + b) / k.length;
    for (const [i, row] of NIST_ROWS.entries()) {
      const predicted = pressureLoss(mean, row['mdot_lbmh']!, 1);
      expect(Math.abs(predicted / row['liqline_dp_psid']! - 1)).toBeLessThan(0.1);
      expect(k[i]! / mean).toBeGreaterThan(0.9);
    }
  });

  it('air side: flow times enthalpy drop is the capacity measured', () => {
    // Instruments of the test: capacity to a few per cent; condensate enthalpy is left out (about 1 %).
    for (const row of NIST_ROWS) {
      const W1 = humidityRatioFromDewPoint(kelvin(row['indoor_dp_F']!), ATMOSPHERE);
      const W2 = humidityRatioFromDewPoint(kelvin(row['indoor_exit_dp_F']!), ATMOSPHERE);
      const drop = moistAirEnthalpy(kelvin(row['indoor_db_F']!), W1) - moistAirEnthalpy(kelvin(row['indoor_exit_db_F']!), Math.min(W1, W2));
      const heat = row['indoor_air_scfm']! * SCFM * drop;
      expect(heat / (row['total_cap_Btuh']! * BTU_PER_HOUR)).toBeGreaterThan(0.94);
      expect(heat / (row['total_cap_Btuh']! * BTU_PER_HOUR)).toBeLessThan(1.06);
    }
  });

  it('wet coil: contact factor and refrigerant-side conductance from the first wet row predict the dehumidification of the others', () => {
    const wet = NIST_ROWS.filter((row) => row['latent_Btuh']! > 0);
    const dew = (row: Readonly<Record<string, number>>, name: string): number => humidityRatioFromDewPoint(kelvin(row[name]!), ATMOSPHERE);
    // Saturation of R-410A from two chart points, from memory: 40 F at 118.1 psig, 50 F at 142.2 psig; ln p is straight in 1/T to 0.1 K between 35 and 55 F.
    const [pa, pb] = [118.1 + 14.696, 142.2 + 14.696];
    const slope = Math.log(pb / pa) / (1 / kelvin(40) - 1 / kelvin(50));
    const evaporating = (row: Readonly<Record<string, number>>): number =>
      1 / (1 / kelvin(40) - Math.log(row['evap_exit_psia']! / pa) / slope);
    const split = (row: Readonly<Record<string, number>>, contact: number, conductance: number): number => {
      const flow = row['indoor_air_scfm']! * SCFM;
      const W = dew(row, 'indoor_dp_F');
      const air = { flow, T: kelvin(row['indoor_db_F']!), W, pressure: ATMOSPHERE, contact };
      const Ts = surfaceTemperature(air, conductance, evaporating(row));
      return W - contact * Math.max(0, W - humidityRatioFromDewPoint(Ts, ATMOSPHERE));
    };
    // Fit on the first row: dry-bulb gives the contact factor for a surface temperature, the exit dew point settles which.
    let best = { error: Number.POSITIVE_INFINITY, contact: 0, conductance: 0 };
    const first = wet[0]!;
    for (let contact = 0.7; contact < 0.99; contact += 0.005) {
      for (let conductance = 400; conductance < 4000; conductance += 50) {
        const flow = first['indoor_air_scfm']! * SCFM;
        const air = { flow, T: kelvin(first['indoor_db_F']!), W: dew(first, 'indoor_dp_F'), pressure: ATMOSPHERE, contact };
        const Ts = surfaceTemperature(air, conductance, evaporating(first));
        const tOut = air.T - contact * (air.T - Ts);
        const error =
          Math.abs(tOut - kelvin(first['indoor_exit_db_F']!)) +
          2_000 * Math.abs(split(first, contact, conductance) - dew(first, 'indoor_exit_dp_F'));
        if (error < best.error) best = { error, contact, conductance };
      }
    }
    for (const row of wet) {
      const removed = dew(row, 'indoor_dp_F') - dew(row, 'indoor_exit_dp_F');
      const predicted = dew(row, 'indoor_dp_F') - split(row, best.contact, best.conductance);
      // A dew point is good to 0.2 K here, 0.12 g/kg at each side; moisture removed is 0.7 to 2 g/kg.
      expect(Math.abs(predicted - removed)).toBeLessThan(0.4e-3);
    }
  });

  it('the file is what it says: 16 rows with flow in a heat pump’s range', () => {
    expect(NIST_ROWS).toHaveLength(16);
    for (const row of NIST_ROWS) expect(row['mdot_lbmh']! * LB_PER_HOUR).toBeCloseTo(0.05, 1);
  });
});
