export {
  type BarometerJudgement,
  type BarometerKind,
  geopotentialAltitude,
  judgeBarometer,
  SEA_LEVEL_PRESSURE,
  seaLevelFromStation,
  standardAtmosphereElevation,
  standardAtmospherePressure,
  standardPressureAtGeopotential,
  standardTemperatureAtGeopotential,
  stationFromSeaLevel,
} from './atmosphere.js';
export {
  dewPoint,
  humidityRatio,
  humidityRatioFromDewPoint,
  humidityRatioFromWetBulb,
  moistAirEnthalpy,
  moistAirVolume,
  relativeHumidity,
  saturationHumidityRatio,
  saturationVapourPressure,
  temperatureFromEnthalpy,
  wetBulb,
} from './moist-air.js';
export {
  fastEnthalpy,
  fastSaturationEnthalpy,
  fastSaturationHumidity,
  fastVapourPressure,
  saturationTemperatureFromEnthalpy,
} from './saturated-air.js';
