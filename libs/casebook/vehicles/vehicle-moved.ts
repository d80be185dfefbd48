/**
 * A case or a record came to stand under another vehicle while its old one was waited for. Vehicles are locked in the order of their identifiers, so the new one
 * cannot be waited for with the old one held: the transaction begins again. Carries the SQLSTATE of a transaction that is to be repeated.
 */
export class VehicleMoved extends Error {
  override readonly name = 'VehicleMoved';
  readonly code = '40001';
  constructor(subject: string) {
    super(`${subject} came to stand under another vehicle while it was waited for`);
  }
}

/** Each try waits behind one more merge or correction of the very same car. */
const TRIES = 5;

/** Carries out a whole transaction, again where what it waited for has moved. Nothing of a try that failed was written. */
export async function untilStill<T>(transaction: () => Promise<T>): Promise<T> {
  for (let tries = 1; ; tries++) {
    try {
      return await transaction();
    } catch (error) {
      if (!(error instanceof VehicleMoved) || tries === TRIES) throw error;
    }
  }
}
