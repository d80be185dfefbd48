import { fastVapourPressure } from '#libs/air/index.js';
import type { AirSetting, Conditions } from './hardware.js';

const MOLAR_MASS_RATIO = 0.621945;

/** Humidity ratio of air at T (K), relative humidity (0..1) and p (Pa): 0.621945 pw/(p - pw). */
export function humidityRatioOf(T: number, relativeHumidity: number, p: number): number {
  const pw = relativeHumidity * fastVapourPressure(T);
  return (MOLAR_MASS_RATIO * pw) / (p - pw);
}

/**
 * What the evaporator breathes at an air setting: outside and cabin air mixed by mass, T and humidity ratio each as the mass-weighted mean (heat
 * capacities taken equal). The relative humidity is held at 1 where the mixture would be fog.
 */
export function evaporatorAirAt(
  setting: AirSetting,
  barometricPressure: number,
): Pick<Conditions, 'evaporatorAirTemperature' | 'evaporatorAirHumidity'> {
  const { outsideTemperature, outsideHumidity, cabinTemperature, cabinHumidity, recirculation: r } = setting;
  const W =
    r * humidityRatioOf(cabinTemperature, cabinHumidity, barometricPressure) +
    (1 - r) * humidityRatioOf(outsideTemperature, outsideHumidity, barometricPressure);
  const evaporatorAirTemperature = r * cabinTemperature + (1 - r) * outsideTemperature;
  const pw = (W * barometricPressure) / (MOLAR_MASS_RATIO + W);
  return { evaporatorAirTemperature, evaporatorAirHumidity: Math.min(pw / fastVapourPressure(evaporatorAirTemperature), 1) };
}
