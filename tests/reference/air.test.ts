import { describe, expect, it } from '@jest/globals';
import {
  dewPoint,
  humidityRatio,
  humidityRatioFromWetBulb,
  moistAirEnthalpy,
  moistAirVolume,
  saturationHumidityRatio,
  saturationVapourPressure,
  standardAtmospherePressure,
  standardPressureAtGeopotential,
  standardTemperatureAtGeopotential,
  wetBulb,
} from '#libs/air/index.js';
import { PUBLISHED, type PublishedCheck } from './data/thermo-data.js';

// ASHRAE Handbook Fundamentals 2017, chapter 1, and the U.S. Standard Atmosphere 1976 (data/thermo/published.json).

const CHECKS = PUBLISHED.filter((check) => check.fluid === 'moist air' || check.fluid === 'standard atmosphere');
const PSI = 6894.757293168361;

function computed(check: PublishedCheck): number {
  const at = (key: string): number => check.inputs[key] as number;
  const kelvin = (key: string): number => at(key) + 273.15;
  const humidity = (): number => ('W' in check.inputs ? at('W') : humidityRatioFromWetBulb(kelvin('t_db_C'), kelvin('t_wb_C'), at('p_Pa')));
  switch (check.quantity) {
    case 'pws':
      return saturationVapourPressure(kelvin('t_C'));
    case 'Ws':
      return saturationHumidityRatio(kelvin('t_C'), at('p_Pa'));
    case 'h_s':
      return moistAirEnthalpy(kelvin('t_C'), saturationHumidityRatio(kelvin('t_C'), at('p_Pa')));
    case 'W':
      return humidity();
    case 't_dew':
      return dewPoint(kelvin('t_db_C'), humidity(), at('p_Pa')) - 273.15;
    case 'h':
      return moistAirEnthalpy(kelvin('t_db_C'), humidity());
    case 'v':
      return moistAirVolume(kelvin('t_db_C'), humidity(), at('p_Pa'));
    case 't_wb':
      return wetBulb(kelvin('t_db_C'), humidityRatio(kelvin('t_db_C'), at('RH'), at('p_Pa')), at('p_Pa')) - 273.15;
    case 't_atm':
      return standardTemperatureAtGeopotential(at('z_m')) - 273.15;
    case 'p_atm':
      if ('z_geometric_m' in check.inputs) return standardAtmospherePressure(at('z_geometric_m'));
      return 'z_ft' in check.inputs ? standardPressureAtGeopotential(at('z_ft') * 0.3048) / PSI : standardPressureAtGeopotential(at('z_m'));
    default:
      return Number.NaN;
  }
}

describe('published values of air', () => {
  it('are all there', () => {
    expect(CHECKS).toHaveLength(51);
  });

  it.each([...new Set(CHECKS.map((check) => check.source))])('%s', (source) => {
    const off = CHECKS.filter((check) => check.source === source)
      .map((check) => ({
        quantity: check.quantity,
        inputs: check.inputs,
        printed: check.value,
        computed: computed(check),
        tolerance: check.tolerance,
      }))
      .filter((line) => !(Math.abs(line.computed - line.printed) <= line.tolerance));
    expect(off).toEqual([]);
  });
});
