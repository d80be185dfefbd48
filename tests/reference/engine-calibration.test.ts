import { describe, expect, it } from '@jest/globals';
import { decode, encode, fnv1a } from '#libs/engine/calibration/codec.js';
import { currentCalibration } from '#libs/engine/calibration/current.js';
import { ALL_DIMS, bandsOf, groupKey, mixture, predict, regimeShares, weatherTerms } from '#libs/engine/calibration/model.js';
import { D1, L, Q1, TV } from '#libs/engine/dims.js';
import type { FaultCode } from '#libs/engine/index.js';
import { quasi } from '#libs/engine/simulation/draws.js';
import { steadySimulator } from '#libs/engine/simulation/simulate.js';
import type { Weather } from '#libs/engine/weather.js';

const exact = (value: number) => ({ value, sigma: 0 });
const weather = (airK: number, cabinK: number): Weather => ({
  condenserAir: exact(airK),
  evaporatorAir: exact(cabinK),
  humidity: exact(0.45),
  speed: exact(27),
  blower: exact(1),
  barometerPa: 99_000,
});

/** Brute simulation at one weather: mean over drawn hardware, the reference the fitted path stands for. */
function brute(code: FaultCode, size: number, w: Weather): Float64Array {
  const points = quasi(12);
  const simulate = steadySimulator();
  const sum = new Float64Array(15);
  let n = 0;
  for (let i = 0; i < 36; i++) {
    const got = simulate(
      { layout: 'valve-integral-receiver', compressor: 'fixed-clutch', refrigerant: 'R-134a' },
      points(i + 5),
      {
        condenserAirK: w.condenserAir.value,
        evaporatorAirK: w.evaporatorAir.value,
        relativeHumidity: 0.45,
        speed: 27,
        blower: 1,
        barometerPa: 99_000,
      },
      code,
      size,
    );
    if (!got) continue;
    n++;
    got.dims.forEach((x, k) => {
      sum[k]! += x;
    });
  }
  return sum.map((x) => x / n);
}

describe('fitted likelihood against brute simulation at the same conditions', () => {
  const group = currentCalibration().get(groupKey('valve-integral-receiver', 'fixed-clutch'))!;
  const regimes = (code: FaultCode, severity: number) =>
    bandsOf(group).find(([n]) => n!.code === code && Math.abs(n!.severity - severity) < 0.13)!;

  // Standard error of 36 drawn systems is a sixth of the node's own width; the regression itself may miss by as much again.
  it.each([
    ['healthy', 0, 303, 299],
    ['healthy', 0, 309, 300],
    ['condenser-dirt', 0.55, 306, 300],
    ['compressor-leakage', 0.55, 306, 300],
    ['evaporator-airflow', 0.55, 306, 300],
  ] as const)('%s of %f at %i K', (code, size, air, cabin) => {
    const w = weather(air, cabin);
    const t = weatherTerms(w, 'R-134a');
    const nodes = regimes(code, size);
    const fitted = mixture(
      nodes.map((n) => predict(n, t, ALL_DIMS)),
      regimeShares(nodes, t),
      ALL_DIMS,
    );
    const simulated = brute(code, size, w);
    for (const dim of [L, D1, Q1, TV]) {
      const width = Math.sqrt(fitted.covariance[dim * 15 + dim]!);
      expect(Math.abs(fitted.mean[dim]! - simulated[dim]!)).toBeLessThan(0.6 * width + 0.5);
    }
  });
});

describe('calibration artefact', () => {
  const groups = [...currentCalibration().values()];

  it('holds every kind of system with a sound one first and shares that make sense', () => {
    expect(groups.map((g) => g.key)).toEqual(
      expect.arrayContaining(['orifice-accumulator/fixed-clutch', 'valve-receiver/variable', 'valve-integral-receiver/electric']),
    );
    for (const g of groups) {
      expect(g.nodes[0]!.code).toBe('healthy');
      for (const n of g.nodes) for (let i = 0; i < 15; i++) expect(n.covariance[(i * (i + 1)) / 2 + i]).toBeGreaterThan(0);
    }
  });

  it('survives its own codec and refuses damage', () => {
    const small = encode('t', [groups[0]!]);
    expect(decode(small).get(groups[0]!.key)!.nodes[1]!.coefficients).toEqual(groups[0]!.nodes[1]!.coefficients);
    const wide = { ...groups[0]!, nodes: groups[0]!.nodes.map((n, i) => ({ ...n, lossSigma: i === 1 ? 0.1234 : 0 })) };
    const kept = decode(encode('t', [wide])).get(wide.key)!.nodes;
    expect([kept[0]!.lossSigma, kept[1]!.lossSigma]).toEqual([0, 0.1234]);
    const torn = { ...small, data: `${small.data.slice(4)}AAAA` };
    expect(() => decode(torn)).toThrow('does not match its hash');
  });

  it('hashes as FNV-1a does (published test vectors: "" 811c9dc5, "a" e40c292c, "foobar" bf9cf968)', () => {
    expect([fnv1a(''), fnv1a('a'), fnv1a('foobar')]).toEqual(['811c9dc5', 'e40c292c', 'bf9cf968']);
  });
});
