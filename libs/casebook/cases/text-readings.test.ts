import { describe, expect, it } from '@jest/globals';
import { readingsInText } from './text-readings.js';

const short = (text: string) =>
  readingsInText(text).map(({ reading: { place, phase, value, unit } }) => [place, value, unit, ...(phase === undefined ? [] : [phase])]);

describe('readings in what people write', () => {
  it.each<[string, unknown[][]]>([
    [
      'Low side 28 psi, high side 210 psi, vent 12 °C',
      [
        ['low-side-port', 28, '[psi]'],
        ['high-side-port', 210, '[psi]'],
        ['vent', 12, 'Cel'],
      ],
    ],
    [
      'gauges 28/210 psi at idle',
      [
        ['low-side-port', 28, '[psi]'],
        ['high-side-port', 210, '[psi]'],
      ],
    ],
    [
      'ND 2,1 bar; HD 14,5 bar. Ausströmer 9 °C',
      [
        ['low-side-port', 2.1, 'bar'],
        ['high-side-port', 14.5, 'bar'],
        ['vent', 9, 'Cel'],
      ],
    ],
    [
      'static: low 85 psi and high 85 psi',
      [
        ['low-side-port', 85, '[psi]', 'rest'],
        ['high-side-port', 85, '[psi]', 'rest'],
      ],
    ],
    ['Recovered 380 g, then a leak was found', [['service-machine', 380, 'g']]],
    ['outlet temp was 48 F on high fan', [['vent', 48, '[degF]']]],
  ])('are found in "%s"', (text, readings) => expect(short(text)).toEqual(readings));

  it.each([
    'Low side was low, high side high',
    'low 28',
    'slow 28 psi leak',
    'customer says 30 days ago it was fine',
    'charged 560 g',
    'part no. HP-210, 3 pcs',
    'high beam bulb replaced. 12 V battery 11.9 V',
    '28/210',
    'dated 28/11/2025, 30 psi oil pressure',
    'Low fan speed; 210 psi oil',
  ])('are not in "%s"', (text) => expect(short(text)).toEqual([]));

  it('are looked for in time that grows with the text alone', () => {
    for (const text of ['low '.repeat(12_500), '1/'.repeat(25_000), `low${' '.repeat(50_000)}28 psi`, '28 '.repeat(16_000)]) {
      expect(readingsInText(text)).toEqual([]);
    }
  });
});
