import { useMutation } from '@tanstack/react-query';
import { useState } from 'react';
import { answer, Refusal, server } from '../client/client.ts';
import { goTo } from '../shell/route.ts';

/** Finds a car by its VIN. The number goes in the body, never into an address. */
export function VehicleFinder({ open }: { readonly open: boolean }) {
  const [vin, setVin] = useState('');
  const find = useMutation({
    mutationFn: () => answer(server.POST('/v1/vehicles/lookup', { body: { vin: vin.trim() } })),
    onSuccess: ({ id }) => goTo(`#/bay/vehicle/${id}`),
  });
  const unknown = find.error instanceof Refusal && find.error.status === 404;
  return (
    <form
      className="row finder"
      aria-label="Find a car"
      onSubmit={(event) => {
        event.preventDefault();
        if (vin.trim() !== '') find.mutate();
      }}
    >
      <label className="field">
        <span>Find a car by VIN</span>
        <input
          value={vin}
          // biome-ignore lint/a11y/noAutofocus: the visitor came here to type exactly this
          autoFocus={open}
          autoComplete="off"
          autoCapitalize="characters"
          spellCheck={false}
          maxLength={20}
          onChange={({ target }) => setVin(target.value.toUpperCase())}
        />
      </label>
      <button type="submit" disabled={find.isPending}>
        Find
      </button>
      {find.error ? (
        <small role="alert">{unknown ? 'Not seen here before. Check the number, or open a case for it below.' : find.error.message}</small>
      ) : null}
    </form>
  );
}
