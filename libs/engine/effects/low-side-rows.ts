import type { FaultCode } from '../codes.js';
import { type EffectRow, three } from './effect-row.js';

/** Effects of faults of expansion, low side, compressor and air. */
export function lowSideRows(code: FaultCode, orifice: boolean, holdsEvaporator: boolean, low: (x: number) => number): EffectRow[] {
  switch (code) {
    case 'valve-restricted':
      return [
        ...three(
          { lost: 0.02, sc: 0.2, sh: 3, tdis: 3, vent: 0.2, command: -0.1 },
          {
            lost: 0.2,
            beyond: true,
            low: low(-0.25),
            dis: -0.5,
            liq: -0.3,
            sc: 0.5,
            sh: 17,
            tdis: 17,
            vent: 1.5,
            command: -0.3,
            duty: -0.2,
          },
          { lost: 0.6, low: low(-0.9), dis: -2, liq: -1.7, sc: 0.8, sh: 30, tdis: 28, vent: 7, command: -0.45, duty: -0.4 },
        ),
        // Nearly shut: less than the model's smallest opening, a third.
        {
          severity: 0.97,
          share: 0.25,
          lost: 0.6,
          low: low(-0.8),
          dis: -1.6,
          liq: -1.4,
          sh: 27,
          tdis: 22,
          vent: 6,
          command: -0.4,
          duty: -0.4,
          doubt: 0.5,
          beyond: true,
        },
      ];
    case 'valve-stuck-open':
      return three(
        { lost: 0.03, low: 0.12, dis: -0.1, liq: -0.35, sc: -1.5, sh: -5, tdis: -12, vent: 0.6, command: 0.1 },
        { lost: 0.08, low: 0.25, dis: -0.2, liq: -0.8, sc: -3, sh: -8, tdis: -22, vent: 1.4, command: 0.2 },
        { lost: 0.2, low: 0.6, dis: -0.4, liq: -1.2, sc: -4, sh: -10, tdis: -28, vent: 3, command: 0.3 },
      );
    case 'orifice-clogged':
      return three(
        { lost: 0.02, low: -0.1, dis: 0.4, liq: 0.45, sc: 8, tdis: 2, vent: 0.2, duty: -0.15 },
        { lost: 0.15, low: -0.3, dis: 1, liq: 1.1, sc: 15, sh: 4, tdis: 7, vent: 1.5, duty: -0.35 },
        { lost: 0.5, low: -0.8, dis: 0.5, liq: 0.7, sc: 22, sh: 14, tdis: 14, vent: 6, duty: -0.55, doubt: 0.5 },
      );
    case 'orifice-oversize':
      return three(
        { lost: 0.03, low: 0.12, dis: -0.1, liq: -0.2, sc: -3, sh: -2, tdis: -2, vent: 0.5 },
        { lost: 0.08, low: 0.25, dis: -0.25, liq: -0.35, sc: -5, sh: -4, tdis: -4, vent: 1.3 },
        { lost: 0.18, low: 0.5, dis: -0.5, liq: -0.6, sc: -6, sh: -4, tdis: -6, vent: 2.5 },
      );
    case 'suction-restriction': {
      const evaporatorHeld: EffectRow[] = holdsEvaporator
        ? [
            {
              severity: 0.45,
              share: 0.3,
              beyond: true,
              lost: 0.03,
              low: -0.5,
              evap: 0,
              dis: -0.1,
              liq: -0.1,
              sh: 7,
              tdis: 8,
              command: 0.2,
            },
            {
              severity: 0.8,
              share: 0.3,
              beyond: true,
              lost: 0.12,
              low: -1,
              evap: 0.05,
              dis: -0.3,
              liq: -0.3,
              sh: 14,
              tdis: 16,
              vent: 1,
              command: 0.35,
            },
          ]
        : [];
      const suctionHeld = three(
        { lost: 0.08, low: low(-0.3), evap: 0.15, dis: -0.6, liq: -0.55, sc: -0.4, tdis: 3, vent: 1.5, core: 1.5, duty: -0.1 },
        { lost: 0.2, low: low(-0.6), evap: 0.3, dis: -1.4, liq: -1.3, sc: -1.2, tdis: 6, vent: 3.5, core: 3.5, duty: -0.2 },
        { lost: 0.45, low: low(-1.1), evap: 0.5, dis: -2.4, liq: -2.2, sc: -2.5, tdis: 10, vent: 7, core: 7, duty: -0.4 },
      );
      // A hose or screen that leaves half of the flow: what passes it keeps its temperature, so that superheat counted from the low pressure rises.
      const starved: EffectRow[] = [
        {
          severity: 0.6,
          share: 0.15,
          beyond: true,
          lost: 0.3,
          low: low(-0.8),
          evap: 0.4,
          dis: -1.7,
          liq: -1.6,
          sc: -1.8,
          sh: 10,
          tdis: 8,
          vent: 4.5,
          core: 4.5,
          command: 0.3,
          duty: -0.25,
        },
        {
          severity: 0.85,
          share: 0.15,
          beyond: true,
          lost: 0.5,
          low: low(-1.2),
          evap: 0.7,
          dis: -2.8,
          liq: -2.6,
          sc: -3,
          sh: 18,
          tdis: 12,
          vent: 8,
          core: 8,
          command: 0.35,
          duty: -0.45,
        },
      ];
      return [...suctionHeld, ...evaporatorHeld, ...starved];
    }
    case 'compressor-leakage':
      return [
        ...three(
          { lost: 0.05, low: 0.2, dis: -0.3, liq: -0.25, sc: orifice ? -1 : 0, tdis: 2, vent: 0.8, command: 0.15 },
          { lost: 0.15, low: 0.5, dis: -0.8, liq: -0.7, sc: orifice ? -2 : 0, tdis: 4, vent: 2.2, command: 0.3 },
          { lost: 0.35, low: 1, dis: -2, liq: -1.8, sc: orifice ? -4 : -1, tdis: 6, vent: 4.5, command: 0.35 },
        ).map((row) => ({ ...row, share: row.share * 0.75 })),
        // A leak of half of what is swept.
        {
          severity: 0.92,
          share: 0.2,
          beyond: true,
          lost: 0.5,
          low: 1.4,
          dis: -3.2,
          liq: -2.9,
          sc: orifice ? -4 : -2,
          tdis: 3,
          vent: 6.5,
          command: 0.4,
        },
        { severity: 0.95, share: 0.25, beyond: true, lost: 0.75, low: 2.2, dis: -5, liq: -4.6, sc: -3, tdis: -2, vent: 10, command: 0.4 },
      ];
    case 'compressor-wear':
      return three(
        { lost: 0.01, tdis: 8 },
        { lost: 0.05, low: 0.1, dis: -0.2, liq: -0.2, tdis: 18, vent: 0.6 },
        { lost: 0.2, low: 0.4, dis: -0.8, liq: -0.7, tdis: 30, vent: 2.5 },
      );
    case 'displacement-stuck-low':
      return [
        // Stuck just short of what the load asks: the command goes to its end and the readings hardly move.
        { severity: 0.1, share: 0.25, beyond: true, lost: 0.06, low: 0.15, dis: -0.4, liq: -0.4, tdis: -2, vent: 0.8, command: 0.45 },
        ...three(
          { lost: 0.2, low: 0.7, dis: -1.6, liq: -1.5, sc: -1, tdis: -5, vent: 3.2, command: 0.35 },
          { lost: 0.45, low: 1.5, dis: -3.3, liq: -3, sc: -2.5, tdis: -13, vent: 7, command: 0.4 },
          { lost: 0.85, beyond: true, low: 2.6, dis: -6, liq: -5.6, sc: -4, tdis: -22, vent: 13, command: 0.4 },
        ),
        { severity: 0.7, share: 0.3, beyond: true, lost: 0.65, low: 2, dis: -4.6, liq: -4.3, sc: -3, tdis: -17, vent: 10, command: 0.4 },
      ];
    case 'displacement-stuck-high':
      return three(
        { lost: 0, low: -0.25, dis: 0.2, liq: 0.2, tdis: 2, vent: -1.5, core: -2, command: -0.2 },
        { lost: 0, low: -0.5, dis: 0.4, liq: 0.4, tdis: 5, vent: -3, core: -4, command: -0.35 },
        { lost: 0.1, low: -0.8, dis: 0.5, liq: 0.5, tdis: 8, vent: -3, core: -6, command: -0.45, doubt: 0.5 },
      );
    case 'clutch-slip':
      return [
        ...three(
          { lost: 0.1, low: 0.3, dis: -0.7, liq: -0.65, tdis: -4, vent: 1.3, speed: -0.15 },
          { lost: 0.25, low: 0.6, dis: -1.5, liq: -1.35, sc: -1, tdis: -8, vent: 2.7, speed: -0.35 },
          { lost: 0.55, low: 1.4, dis: -3.6, liq: -3.3, sc: -2, tdis: -14, vent: 7, speed: -0.65 },
        ),
        // Below half of its speed, where the model ends.
        { severity: 0.95, share: 0.25, beyond: true, lost: 0.55, low: 1.4, dis: -3.6, liq: -3.3, sc: -2, tdis: -14, vent: 7, speed: -0.62 },
      ];
    case 'electric-compressor-limited':
      return three(
        { lost: 0.12, low: 0.3, dis: -0.8, liq: -0.7, tdis: -4, vent: 1.5, speed: -0.2 },
        { lost: 0.35, low: 0.8, dis: -2, liq: -1.8, sc: -1, tdis: -10, vent: 4.5, speed: -0.45 },
        { lost: 0.8, low: 2.2, dis: -5, liq: -4.6, sc: -3, tdis: -20, vent: 11, speed: -0.8 },
      );
    case 'evaporator-airflow':
      return three(
        { lost: 0.1, low: low(-0.15), dis: -0.4, liq: -0.35, tdis: -1, vent: -2, core: -2, command: -0.15, duty: -0.1 },
        { lost: 0.25, low: low(-0.35), dis: -0.9, liq: -0.8, tdis: -2, vent: -4, core: -4.5, command: -0.25, duty: -0.25 },
        { lost: 0.5, low: low(-0.7), dis: -1.8, liq: -1.6, sc: -0.6, sh: -2, tdis: -3, vent: -6, core: -7, command: -0.4, duty: -0.4 },
      );
    case 'evaporator-fouling':
      return three(
        { lost: 0.02, vent: 0.4 },
        { lost: 0.06, low: low(-0.1), dis: -0.2, liq: -0.2, vent: 0.9 },
        { lost: 0.12, low: low(-0.2), dis: -0.4, liq: -0.4, vent: 2 },
      );
    case 'air-door':
      return three({ lost: 0, vent: 5 }, { lost: 0, vent: 10 }, { lost: 0, vent: 19 });
    case 'temperature-sensor-bias':
      return three(
        { lost: 0.1, low: 0.1, dis: -0.2, liq: -0.2, vent: 2.5, duty: -0.2, command: -0.15, core: 1, doubt: 0.5 },
        { lost: 0.25, low: 0.3, dis: -0.6, liq: -0.5, vent: 5, duty: -0.35, command: -0.25, core: 3, doubt: 0.5 },
        { lost: 0.2, low: -0.3, dis: -0.2, liq: -0.2, vent: -3, duty: 0.1, command: 0.1, core: -6, doubt: 0.5 },
      );
    case 'compressor-inhibited':
      return [{ severity: 1, share: 1, lost: 1, stopped: true }];
    case 'sealant':
      return [
        { severity: 0.3, share: 0.7, lost: 0.03 },
        { severity: 0.6, share: 0.15, lost: 0.1, dis: 2, liq: -1.5, sc: -2, sh: 2, tdis: 8, vent: 1, doubt: 0.6 },
        { severity: 0.7, share: 0.15, lost: 0.3, low: low(-0.4), dis: -0.5, liq: -0.4, sh: 15, tdis: 14, vent: 3, doubt: 0.6 },
      ];
    case 'second-circuit':
      return three(
        { lost: 0.05, low: 0.2, dis: 0.3, liq: 0.3, sc: -1, vent: 1.5 },
        { lost: 0.15, low: 0.4, dis: 0.6, liq: 0.6, sc: -2.5, vent: 3 },
        { lost: 0.3, low: 0.7, dis: 0.8, liq: 0.7, sc: -4, sh: -2, vent: 5 },
      );
    default:
      return [];
  }
}
