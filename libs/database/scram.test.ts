import { createHash, createHmac } from 'node:crypto';
import { expect, it } from '@jest/globals';
import { scramVerifier } from './scram.js';

it('stores the keys of the exchange printed in RFC 7677, section 3', () => {
  // There: user "user", password "pencil", 4096 iterations. A server knows the password's keys when it accepts the client's proof and
  // signs as shown.
  const nonce = 'rOprNGfwEbeRWgbNEkqO%hvYDpWUa2RaTCAfuxFIlj)hNlF$k0';
  const salt = 'W22ZaJ0SNY7soEsUEjb6gQ==';
  const exchange = `n=user,r=rOprNGfwEbeRWgbNEkqO,r=${nonce},s=${salt},i=4096,c=biws,r=${nonce}`;
  const proof = Buffer.from('dHzbZapWIk4jUhN+Ute9ytag9zjfMHgsqmmiz7AndVQ=', 'base64');
  const signature = '6rriTRBi23WpRR/wtup+mMhUZUn/dB5nLTJRsjl95G4=';

  const verifier = scramVerifier('pencil', Buffer.from(salt, 'base64'));
  const [, stored, server] = /^SCRAM-SHA-256\$4096:W22ZaJ0SNY7soEsUEjb6gQ==\$([^:]+):(.+)$/.exec(verifier)!;
  expect(createHmac('sha256', Buffer.from(server!, 'base64')).update(exchange).digest('base64')).toBe(signature);
  const clientSignature = createHmac('sha256', Buffer.from(stored!, 'base64')).update(exchange).digest();
  const clientKey = proof.map((byte, i) => byte ^ clientSignature[i]!);
  expect(createHash('sha256').update(clientKey).digest('base64')).toBe(stored);
});

it('salts each password anew', () => {
  expect(scramVerifier('same')).not.toBe(scramVerifier('same'));
});
