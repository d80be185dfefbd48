import { useMutation } from '@tanstack/react-query';
import { useId, useState } from 'react';
import { answer, Refusal, server } from '../client/client.ts';
import { goTo } from '../shell/route.ts';

/** Finds a car by its VIN. What is typed goes in the body of the request, never into an address. */
export function VehicleFinder({ given }: { readonly given: string | null }) {
  const id = useId();
  const [vin, setVin] = useState(given ?? '');
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
      <div className="field">
        <label htmlFor={id}>Find a car by VIN</label>
        <input
          id={id}
          value={vin}
          // biome-ignore lint/a11y/noAutofocus: the visitor came here to type exactly this
          autoFocus={given !== null}
          autoComplete="off"
          autoCapitalize="characters"
          spellCheck={false}
          maxLength={20}
          onChange={({ target }) => setVin(target.value.toUpperCase())}
        />
      </div>
      <button type="submit" disabled={find.isPending}>
        Find
      </button>
      {find.error ? (
        <small role="alert">{unknown ? 'Not seen here before. Check the number, or open a case for it below.' : find.error.message}</small>
      ) : null}
    </form>
  );
}
