import type { FaultCode } from '../codes.js';
import type { EnginePlatform } from '../evidence.js';
import { type EffectRow, three } from './effect-row.js';
import { lowSideRows } from './low-side-rows.js';

const NOTHING = { lost: 0 };

/** Effects of a fault on this hardware; empty when the running circuit does not show it. */
export function effectRows(code: FaultCode, platform: EnginePlatform): EffectRow[] {
  const orifice = platform.layout === 'orifice-accumulator';
  const variable = platform.compressor === 'variable' || platform.compressor === 'variable-commanded';
  /** A variable compressor holds its suction: low-side changes show as stroke instead. */
  const low = (x: number) => (variable && x < 0 ? 0.15 * x : x);
  /** Controls with a sensor at the evaporator (and every electric compressor) hold its temperature, not the suction pressure at the compressor. */
  const holdsEvaporator = variable || platform.compressor === 'electric';
  const reserve = platform.reserveShare ?? (orifice ? 0.3 : 0.22);
  switch (code) {
    case 'undercharge': {
      // On the plateau nothing moves: the reserve goes first. Past it the effects of the reference model, by share of charge missing.
      const plateau: EffectRow[] = [
        { severity: 0.1, share: 0.12, lost: 0 },
        { severity: Math.max(reserve - 0.04, 0.12), share: 0.18, lost: 0 },
      ];
      // A third and a fifth of the charge left: less than the model's least, and not yet empty.
      const little: EffectRow[] = [
        {
          severity: 0.67,
          share: 0.1,
          beyond: true,
          lost: orifice ? 0.45 : 0.3,
          low: low(orifice ? -0.9 : -0.1),
          dis: orifice ? -2.7 : -1.4,
          liq: orifice ? -2.4 : -1.3,
          sc: -12,
          sh: orifice ? 36 : 19,
          tdis: orifice ? 34 : 15,
          vent: orifice ? 7.5 : 3.6,
          command: 0.25,
          doubt: 0.2,
          duty: orifice ? -0.6 : -0.3,
        },
        {
          severity: 0.8,
          share: 0.12,
          beyond: true,
          lost: orifice ? 0.65 : 0.55,
          low: low(orifice ? -1.1 : -0.7),
          dis: orifice ? -3.4 : -3,
          liq: orifice ? -3 : -2.8,
          sc: -12,
          sh: orifice ? 38 : 26,
          tdis: orifice ? 34 : 22,
          vent: 10,
          command: 0.25,
          doubt: 0.2,
          duty: orifice ? -0.7 : -0.45,
        },
      ];
      const empty: EffectRow = { severity: 0.95, share: 0.16, lost: 1, stopped: true, doubt: 0.3 };
      if (orifice) {
        return [
          ...plateau,
          {
            severity: reserve + 0.1,
            share: 0.18,
            lost: 0.06,
            low: low(-0.15),
            dis: -0.4,
            liq: -0.3,
            sc: -3,
            sh: 14,
            tdis: 14,
            vent: 1,
            duty: -0.3,
          },
          {
            severity: reserve + 0.2,
            share: 0.18,
            lost: 0.25,
            low: low(-0.5),
            dis: -1.7,
            liq: -1.4,
            sc: -6,
            sh: 28,
            tdis: 28,
            vent: 4.4,
            duty: -0.5,
          },
          {
            severity: Math.min(reserve + 0.35, 0.8),
            share: 0.18,
            lost: 0.55,
            low: low(-0.9),
            dis: -3,
            liq: -2.6,
            sc: -6,
            sh: 34,
            tdis: 32,
            vent: 9,
            duty: -0.65,
          },
          ...little,
          empty,
        ];
      }
      return [
        ...plateau,
        {
          severity: reserve + 0.17,
          share: 0.18,
          lost: 0.05,
          low: low(0.05),
          dis: -0.6,
          liq: -0.65,
          sc: -9,
          sh: 2,
          tdis: -1,
          vent: 0.8,
          command: 0.1,
        },
        {
          severity: reserve + 0.38,
          share: 0.18,
          lost: 0.15,
          low: low(0),
          dis: -1,
          liq: -0.95,
          sc: -12,
          sh: 10,
          tdis: 7,
          vent: 2.2,
          command: 0.2,
          duty: -0.1,
        },
        {
          severity: Math.min(reserve + 0.55, 0.85),
          share: 0.18,
          lost: 0.5,
          low: low(-0.5),
          dis: -2.6,
          liq: -2.4,
          sc: -12,
          sh: 22,
          tdis: 20,
          vent: 8,
          command: 0.25,
          duty: -0.4,
        },
        ...little,
        empty,
      ];
    }
    case 'overcharge':
      return [
        { severity: 0.1, share: 0.35, lost: 0 },
        { severity: 0.3, share: 0.4, lost: 0.02, dis: 1.2, liq: 1.2, sc: orifice ? 3 : 4, tdis: 2 },
        // The model gives the liquid a part of the condenser; beside heavy overcharge the trade knows a high side that climbs by bars.
        {
          severity: 0.6,
          share: 0.25,
          beyond: true,
          lost: 0.1,
          low: orifice ? 0.1 : 0,
          dis: 3.2,
          liq: 3.2,
          sc: orifice ? 5 : 9,
          tdis: 3,
          vent: 2,
        },
      ];
    case 'air-in-system':
      return three(
        { lost: 0.02, low: 0.02, dis: 0.8, liq: 0.8, sc: 2, tdis: 2, vent: 0.3 },
        { lost: 0.06, low: 0.06, dis: 2, liq: 2, sc: 5, tdis: 4, vent: 0.8 },
        { lost: 0.15, low: 0.12, dis: 4, liq: 4, sc: 9, tdis: 8, vent: 2 },
      );
    case 'wrong-refrigerant':
      return [
        { severity: 0.5, share: 0.5, lost: 0.15, low: 0.3, dis: 2, liq: 2, sc: 7, sh: -3, vent: 1.5, doubt: 1 },
        { severity: 0.5, share: 0.5, lost: 0.15, low: -0.3, dis: -2, liq: -2, sc: -7, sh: 3, vent: 2, doubt: 1 },
      ];
    case 'moisture':
      // A tube seldom ices; a valve does for minutes at a time, and between them the circuit is sound.
      return [
        { severity: 0.3, share: orifice ? 0.97 : 0.8, ...NOTHING },
        {
          severity: 0.7,
          share: orifice ? 0.03 : 0.2,
          lost: 0.5,
          low: low(-0.5),
          dis: -1.2,
          liq: -1,
          sh: 20,
          tdis: 15,
          vent: 5,
          doubt: 0.6,
        },
      ];
    case 'excess-oil':
      return three(
        { lost: 0.03, low: -0.05, dis: 0.1, liq: 0.1, tdis: 1, vent: 0.6 },
        { lost: 0.08, low: -0.1, dis: 0.3, liq: 0.25, sc: 0.8, tdis: 2, vent: 1.4 },
        { lost: 0.14, low: -0.15, dis: 0.6, liq: 0.5, sc: 1, tdis: 3, vent: 2.2 },
      );
    case 'low-oil':
      return three({ lost: 0, tdis: 4 }, { lost: 0.02, tdis: 10 }, { lost: 0.05, tdis: 20 });
    case 'condenser-dirt': {
      const sc = orifice ? -0.5 : 1;
      return three(
        { lost: 0.03, low: 0.1, dis: 1.3, liq: 1.26, sc: 0.8 * sc, tdis: 4, vent: 0.5 },
        { lost: 0.09, low: 0.2, dis: 3.6, liq: 3.5, sc: 1.6 * sc, tdis: 10, vent: 1.2 },
        { lost: 0.2, low: 0.5, dis: 8, liq: 7.8, sc: 2.5 * sc, tdis: 20, vent: 2.6 },
      );
    }
    case 'condenser-fan':
      return three(
        { lost: 0.05, low: 0.1, dis: 2, liq: 1.97, tdis: 5, vent: 0.7 },
        { lost: 0.15, low: 0.3, dis: 5, liq: 4.9, tdis: 12, vent: 2 },
        { lost: 0.35, low: 0.9, dis: 12, liq: 11.7, sc: 3, tdis: 30, vent: 4.8 },
      );
    case 'condenser-passages':
      return three(
        { lost: 0.02, dis: 1, liq: -0.8, sc: orifice ? 0 : -1, sh: 0.2, tdis: 3, vent: 0.1 },
        { beyond: true, lost: 0.06, dis: 2.8, liq: -2.3, sc: orifice ? 0 : -3.7, sh: 0.3, tdis: 9, vent: 0.4 },
        { beyond: true, lost: 0.25, dis: 5.8, liq: -4.7, sc: orifice ? 0 : -8.7, sh: 2, tdis: 17, vent: 3, doubt: 0.45 },
      );
    case 'filter-cartridge':
      return three(
        { lost: 0.02, dis: 0.6, liq: -0.6, sc: -0.8, tdis: 2, vent: 0.1 },
        { beyond: true, lost: 0.05, dis: 1.6, liq: -1.5, sc: -2, tdis: 5, vent: 0.4 },
        { beyond: true, lost: 0.22, dis: 3.4, liq: -3.2, sc: -5, tdis: 11, vent: 3, doubt: 0.5 },
      );
    case 'liquid-line-restriction':
      return orifice
        ? three(
            { lost: 0.01, dis: 0.2, liq: 0.2, late: -1, sc: 4 },
            { lost: 0.08, low: -0.2, dis: 1, liq: 1, late: -3, sc: 10, tdis: 4, vent: 0.8, duty: -0.15 },
            { lost: 0.35, low: -0.4, dis: 2, liq: 2, late: -5, sc: 17, sh: 10, tdis: 10, vent: 4, duty: -0.4 },
          )
        : three(
            { lost: 0.01, late: -1, sh: 0.5 },
            { lost: 0.06, low: low(-0.15), late: -3, sh: 3, tdis: 3, vent: 0.6 },
            // Liquid that flashes before the valve starves it beyond what the model's valve makes good.
            {
              lost: 0.35,
              beyond: true,
              low: low(-0.5),
              dis: -0.6,
              liq: -0.5,
              late: -5,
              sh: 14,
              tdis: 12,
              vent: 4,
              command: -0.2,
              doubt: 0.5,
            },
          );
    case 'discharge-line-restriction':
      return three(
        { lost: 0.02, line: 1, tdis: 5 },
        { lost: 0.07, line: 3, dis: -0.2, liq: -0.2, tdis: 12, vent: 0.5 },
        { lost: 0.2, line: 6, dis: -0.6, liq: -0.6, tdis: 20, vent: 2 },
      );
    default:
      return lowSideRows(code, orifice, holdsEvaporator, low);
  }
}
