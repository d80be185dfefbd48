import { describe, expect, it } from '@jest/globals';
import { type DiagnosisResult } from '#libs/contracts/index.js';
import { packedAnswer, unpackedAnswer } from './packed-answer.js';

const ANSWER = {
  engineVersion: 'engine-1',
  summary: 'Gauge “off” by 0.3 bar — −40 °C',
  faults: [{ probability: 0.1 + 0.2 }],
} as unknown as DiagnosisResult;

describe('a stored answer', () => {
  it('comes back as it was, to the last digit and letter', () => {
    expect(unpackedAnswer(packedAnswer(ANSWER))).toEqual(ANSWER);
  });

  it('comes back from the plain JSON of earlier versions, wherever in a larger buffer it lies', () => {
    const around = Buffer.from(`xx${JSON.stringify(ANSWER)}`);
    expect(unpackedAnswer(around.subarray(2))).toEqual(ANSWER);
  });

  it('is refused when it is neither', () => {
    expect(() => unpackedAnswer(Buffer.from([7, 1, 2]))).toThrow('begins with byte 7');
    expect(() => unpackedAnswer(Buffer.alloc(0))).toThrow('begins with byte undefined');
  });
});
