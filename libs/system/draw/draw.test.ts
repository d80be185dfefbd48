import { describe, expect, it } from '@jest/globals';
import { typicalHardware } from '../platforms.js';
import { DESIGN_CONDITIONS } from '../sizing.js';
import { solveSystem } from '../solve-system.js';
import { circuitDiagram } from './circuit.js';
import { pressureEnthalpyDiagram } from './pressure-enthalpy.js';
import { ticks } from './svg.js';

const hw = typicalHardware('valve-integral-receiver', 'fixed-clutch', 'R-134a');
const sound = solveSystem(hw, DESIGN_CONDITIONS);
const seen = solveSystem(hw, DESIGN_CONDITIONS, [{ code: 'condenser-passages', severity: 0.6 }]);

/** Every opening tag is closed in order: enough of a check that the text is well formed. */
function wellFormed(svg: string): boolean {
  const open: string[] = [];
  for (const [, close, name, , self] of svg.matchAll(/<(\/?)([a-z]+)((?:\s+[a-zA-Z:-]+="[^"<]*")*)\s*(\/?)>/g)) {
    if (close) {
      if (open.pop() !== name) return false;
    } else if (!self) open.push(name!);
  }
  return open.length === 0 && !/NaN|undefined|Infinity/.test(svg);
}

describe('drawings', () => {
  const log = pressureEnthalpyDiagram(
    'R-134a',
    { name: 'seen <here>', points: seen.cycle },
    { name: 'sound', points: sound.cycle },
    { scale: 'log' },
  );
  const linear = pressureEnthalpyDiagram('R-134a', { name: 'seen', points: seen.cycle }, null, {
    units: { pressure: 'psi', temperature: '°F' },
  });
  const circuit = circuitDiagram(hw.layout, seen.readings, { sound: sound.readings, restriction: 'condenser', restrictionPlace: 0.4 });

  it.each([
    ['log', log],
    ['linear', linear],
    ['circuit', circuit],
  ])('%s is well-formed, titled, described, and needs nothing from outside', (_, svg) => {
    expect(wellFormed(svg)).toBe(true);
    expect(svg).toMatch(/role="img" aria-labelledby="([^"]+)-t \1-d"/);
    expect(svg).toMatch(/<title id="[^"]+">[^<]+<\/title><desc id="[^"]+">[^<]+<\/desc>/);
    expect(svg).not.toMatch(/<script|href=|url\(|@import|foreignObject/);
  });

  it('names both cycles, escapes them, and says the axes with units', () => {
    expect(log).toContain('seen &lt;here&gt;');
    expect(log).toContain('specific enthalpy, kJ/kg');
    expect(log).toContain('pressure, bar absolute');
    expect(linear).toContain('pressure, psi absolute');
  });

  it('marks every state of both cycles and closes them', () => {
    expect(log.match(/<circle /g)).toHaveLength(seen.cycle.length);
    expect(log.match(/<rect [^>]*width="6"/g)).toHaveLength(sound.cycle.length);
  });

  it('writes the pressures of the circuit and the located restriction in words', () => {
    expect(circuit).toContain(`${(seen.readings.highSide['compressor-discharge'] / 1e5).toFixed(1)} bar`);
    expect(circuit).toContain('Restriction located in the condenser passages.');
  });

  it('axis ticks are round', () => {
    expect(ticks(0, 40, 8)).toEqual([0, 5, 10, 15, 20, 25, 30, 35, 40]);
  });
});
